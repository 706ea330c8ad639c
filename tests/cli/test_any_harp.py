"""``--tune auto`` and ``--harp auto`` on the command line: what is printed, and what a take keeps of it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import soundfile
import yaml

from bridge.base.errors import UserError
from bridge.base.units import midi_to_hz
from bridge.cli.any_harp import with_what_is_found
from bridge.study.held import Held
from bridge.wiring.settings import load_settings
from cli.commands import run_here
from sounds.phrases import make_phrase, rehearsed_phrase
from study.heard import exactly
from wiring.harp_files import harp_file


def _recording(folder: Path, a4_hz: float) -> str:
    """A short phrase with bends on a C harp in cross position."""
    sound = rehearsed_phrase(make_phrase(1, "C", 2, riffs=3, a4_hz=a4_hz))
    soundfile.write(folder / "phrase.wav", sound.samples, sound.rate)
    return str(folder / "phrase.wav")


@pytest.mark.parametrize("a4_hz", [436.0, 446.0])
def test_a_recording_is_tuned_and_says_so(
    a4_hz: float, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A4 within 4 cents, what told it, how sure it is; the take is in that A4."""
    words = ("transcribe", _recording(tmp_path, a4_hz), "--out", str(tmp_path / "takes"), "--tune", "auto")
    status, out, _ = run_here(capsys, monkeypatch, *words, "--harp", "C")
    assert status == 0
    line = re.search(
        r"^  tuned: A4 (4\d\d\.\d) Hz, from \d+ straight roots, give or take (\d) cents?$", out, re.MULTILINE
    )
    assert line
    assert float(line[1]) == pytest.approx(a4_hz, abs=1.0)
    kept = yaml.safe_load((tmp_path / "takes" / "phrase" / "take.yaml").read_text(encoding="utf-8"))
    assert kept["harp"]["a4_hz"] == kept["settings"]["harp"]["a4_hz"] == pytest.approx(a4_hz, abs=1.0)
    assert kept["settings"]["harp"]["drift"] == []


def _found(monkeypatch: pytest.MonkeyPatch, held: list[Held], **flags: object) -> tuple[float, list[str]]:
    """A4 and lines for a recording in which these pitches were held."""
    monkeypatch.setattr("bridge.cli.any_harp.hear_pitches", lambda *_: held)
    given = {f"harp.{name}": value for name, value in flags.items()}
    settings, lines = with_what_is_found(Path("any.wav"), load_settings(flags=given), lambda _: None)
    return settings.harp.a4_hz, lines


@pytest.mark.parametrize("key", ["A", "auto"])
def test_a_tape_that_drifts_says_how_far(key: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the harp named or found: from where to where, and how exactly that is known at any moment."""
    held = exactly(make_phrase(2, "A", 2, riffs=30).score)
    drifting = [Held(n.hz * 2.0 ** (n.start_s / 3600.0), n.length_s, n.spread_cents, n.start_s) for n in held]
    a4_hz, lines = _found(monkeypatch, drifting, key=key, **({"tune": "auto"} if key == "A" else {}))
    assert a4_hz == pytest.approx(440.0, abs=1.5)
    assert re.fullmatch(
        r"  drifts by 2\d cents: A4 between 4\d\d\.\d and 4\d\d\.\d Hz, 4\d\d\.\d at first and 44\d\.\d at last, "
        r"from \d+ straight roots, give or take \d cents at any moment; the root follows it",
        lines[-1],
    )
    assert len(lines) == 1 + (key == "auto")


def test_where_no_straight_reed_was_held_a4_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """It says so, and what it stays at."""
    assert _found(monkeypatch, [], tune="auto") == (
        440.0,
        ["  A4 stays 440.0 Hz: no straight reed was held that tells another"],
    )


@pytest.mark.parametrize("cents", [-30.0, 30.0])
def test_roots_that_the_other_notes_contradict_are_not_believed(cents: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw 2 always 30 cents off among notes that are not: A4 stays with them, it is unsure of it and asks why."""
    midi_and_off = [(67, cents), (72, 0.0), (74, 2.0), (67, cents), (81, -2.0), (76, 0.0)] * 4
    held = [Held(midi_to_hz(midi + off / 100.0), 0.4, 2.0, 0.5 * i) for i, (midi, off) in enumerate(midi_and_off)]
    a4_hz, (line,) = _found(monkeypatch, held, tune="auto")
    assert a4_hz == pytest.approx(440.0, abs=0.5)
    side = "under" if cents < 0.0 else "above"
    assert re.fullmatch(
        r"  tuned: A4 4[34]\d\.\d Hz, from 16 straight notes, give or take 15 cents; the roots lie 30 cents "
        rf"{side} your other straight notes: bent, or a harp with its own tuning\?",
        line,
    )


def test_a_set_that_begins_with_a_harp_file_is_not_tuned(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """It says that A4 stays, and hears nothing twice."""
    monkeypatch.setattr("bridge.cli.any_harp.hear_pitches", lambda *_: pytest.fail("heard"))
    settings = load_settings(flags={"harp.harps": f"{harp_file(tmp_path)},A", "harp.tune": "auto"})
    said = ["  A4 stays as in mine.yaml: a harp with a harp file is not tuned"]
    assert with_what_is_found(Path("any.wav"), settings, lambda _: None) == (settings, said)


def test_a_harp_that_is_known_is_not_looked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is heard twice then."""
    monkeypatch.setattr("bridge.cli.any_harp.hear_pitches", lambda *_: pytest.fail("heard"))
    settings = load_settings()
    assert with_what_is_found(Path("any.wav"), settings, lambda _: None) == (settings, [])


@pytest.mark.parametrize("command", ["demo", "check", "tune"])
def test_commands_that_need_the_harp_say_so(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line, status 2."""
    status, _, err = run_here(capsys, monkeypatch, command, "--set", "harp.key=auto")
    assert status == 2
    assert err.startswith("reedwire: ")
    assert "--harp" in err
    assert err.count("\n") == 1


def test_too_few_notes_name_the_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of several recordings each error says which one it is of."""
    with pytest.raises(UserError, match=r"^any\.wav: Too few notes to tell the harp: 0 held, .*; or name the harp\.$"):
        _found(monkeypatch, [], key="auto")
