"""``reedwire rebuild --tempo``: a take that is there is given a tempo, and score and MIDI file follow."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TypeAlias

import pretty_midi
import pytest
import yaml

from cli.commands import run_here
from wiring.made_takes import content, make_take

Capture: TypeAlias = pytest.CaptureFixture[str]
Patch: TypeAlias = pytest.MonkeyPatch


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The phrase as a take without sound or tempo."""
    return make_take(tmp_path / "phrase", sound_s=None).folder.path


def test_a_take_is_given_a_tempo(take: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """In its take.yaml, of which all else stays; the MIDI file's downbeats (pretty_midi) are those of the tempo."""
    run_here(capsys, monkeypatch, "rebuild", str(take))
    old = yaml.safe_load((take / "take.yaml").read_text(encoding="utf-8"))
    status, out, err = run_here(capsys, monkeypatch, "rebuild", str(take), "--tempo", "96", "--bar-1", "1.25")
    assert (status, err) == (0, "")
    assert "wrote performance.mid, score.musicxml, take.yaml; what was there before is in " in out
    new = yaml.safe_load((take / "take.yaml").read_text(encoding="utf-8"))
    tempo = {"quarters_per_minute": 96.0, "bar_1_s": 1.25, "quarters_in_bar": 4, "known_from": "option"}
    assert new == old | {"tempo": tempo}
    downbeats = pretty_midi.PrettyMIDI(str(take / "performance.mid")).get_downbeats()
    assert min(abs(at - 1.25) for at in downbeats) < 0.001
    before = content(take)
    assert run_here(capsys, monkeypatch, "rebuild", str(take))[0] == 0
    assert content(take) == before
    # Another tempo leaves bar 1 where it is, and the other way round.
    assert run_here(capsys, monkeypatch, "rebuild", str(take), "--tempo", "90")[0] == 0
    assert run_here(capsys, monkeypatch, "rebuild", str(take), "--bar-1", "0:01")[0] == 0
    kept = yaml.safe_load((take / "take.yaml").read_text(encoding="utf-8"))["tempo"]
    assert (kept["quarters_per_minute"], kept["bar_1_s"]) == (90.0, 1.0)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--bar-1", "1"), "No tempo is known of this take: give --tempo BPM"),
        (("--tempo", "0"), "--tempo: found '0', allowed: 20 to 400 quarters a minute, or auto."),
        (("--tempo", "96", "--bar-1", "9"), "--bar-1: found 9 s, allowed: up to 3.800 s, where the last note ends."),
    ],
)
def test_what_is_no_tempo_is_refused(
    take: Path, words: tuple[str, ...], complaint: str, capsys: Capture, monkeypatch: Patch
) -> None:
    """Status 2, and nothing is written."""
    before = content(take)
    status, _, err = run_here(capsys, monkeypatch, "rebuild", str(take), *words)
    assert status == 2
    assert complaint in " ".join(err.split())
    assert content(take) == before


def test_quantise_says_which_tempo_it_took_from_the_take(take: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """So that nobody wonders what the notes went to."""
    run_here(capsys, monkeypatch, "rebuild", str(take), "--tempo", "96", "--bar-1", "1.25")
    _, out, _ = run_here(capsys, monkeypatch, "edit", "quantise", str(take), "--dry-run")
    assert out.startswith("Tempo of the take: 96 quarters a minute, bar 1 at 1.250 s.\n")


def test_it_is_said_that_there_is_no_sound_to_sing_from(take: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """Where something was edited that would be in it."""
    (take / "played").mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.copy(take / name, take / "played" / name)
    _, out, _ = run_here(capsys, monkeypatch, "rebuild", str(take))
    assert "resung.wav" not in out
    text = (take / "notes.csv").read_text(encoding="utf-8")
    (take / "notes.csv").write_text(text.replace("1,0.25000", "1,0.12500"), encoding="utf-8")
    _, out, _ = run_here(capsys, monkeypatch, "rebuild", str(take))
    assert out.endswith("; resung.wav was left out, as the take has no sound.wav to sing from.\n")
    _, out, _ = run_here(capsys, monkeypatch, "rebuild", str(take), "--no-sound")
    assert "resung.wav" not in out
