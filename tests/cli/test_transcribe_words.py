"""What ``reedwire transcribe`` says of its settings, in words of its own and through the command."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

from bridge.cli.transcribe_words import bar_lines, bar_warnings, heard_on, live_only_lines, tempo_lines
from bridge.harp.settings import HarpSettings
from bridge.takes.edited import Tempo
from bridge.takes.settings import TakeSettings
from bridge.takes.tempo_choice import KnownTempo
from bridge.wiring.offline import TranscribeReport, transcribe_file
from bridge.wiring.settings import load_settings
from cli.commands import run_here

GUARD = "quantise.bleed.guard does nothing for a recording: nobody knows what a synth was playing meanwhile."
STEADY = "quantise.steady_delay does nothing for a recording: its notes stand where they begin."
HARPS = "Of a set of harps a recording is heard on the first, A; C, low-D would each need a transcription of its own."


def test_what_only_works_while_playing_is_said_once(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tone: Path, tmp_path: Path
) -> None:
    """A line each on standard error, however many files there are; the files are done; without them it is quiet."""
    words = ("transcribe", str(tone), str(tone), "--out", str(tmp_path / "takes"))
    sets = ("--set", "quantise.bleed.guard=true", "--set", "quantise.steady_delay=true")
    status, out, err = run_here(capsys, monkeypatch, *words, *sets)
    assert status == 0
    assert err.splitlines() == [GUARD, STEADY]
    assert out.count("1 note in") == 2
    assert run_here(capsys, monkeypatch, *words)[2] == ""


def test_of_a_set_of_harps_the_first_is_taken_and_the_rest_named() -> None:
    """One harp alone needs no word."""
    assert live_only_lines(load_settings(sets=["harp.harps=A,C,low-D"])) == [HARPS]
    assert live_only_lines(load_settings(sets=["harp.harps=A"])) == []


@pytest.mark.parametrize("preset", ["stage", "classroom", "recording", "driven"])
def test_no_preset_of_ours_is_complained_of(preset: str) -> None:
    """They are made for recordings too."""
    assert live_only_lines(load_settings(preset)) == []


@pytest.mark.parametrize(
    ("words", "heard"),
    [
        ((), "taken as C harp, cross position (--harp KEY for another, --harp auto to find it)"),
        (("--harp", "C"), "heard as C harp, cross position, as told"),
        (("--set", "harp.key=A", "--position", "1"), "heard as A harp, first position, as told"),
    ],
)
def test_who_says_which_harp_it_is_can_be_read(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tone: Path,
    tmp_path: Path,
    words: tuple[str, ...],
    heard: str,
) -> None:
    """A harp that was told is not made out to be heard, and one that nobody told is not passed off as told."""
    status, out, _ = run_here(capsys, monkeypatch, "transcribe", str(tone), "--out", str(tmp_path / "takes"), *words)
    assert status == 0
    assert f" s, {heard}, in {tmp_path / 'takes'}" in out


def test_a_harp_that_was_found_or_measured_needs_no_more_words() -> None:
    """The line below tells of the first; the name of the second says where it is from."""
    assert heard_on("A harp", HarpSettings(key="A"), said=True, found=True) == "heard as A harp"
    measured = heard_on("A harp, as in mine.yaml", HarpSettings(file="mine.yaml"), said=False, found=False)
    assert measured == "heard as A harp, as in mine.yaml"


def test_an_estimated_tempo_is_told_with_how_sure_it_is_and_one_that_was_given_is_not() -> None:
    """Where none was found that is said too."""
    auto = TakeSettings(tempo="auto")
    (line,) = tempo_lines(auto, KnownTempo(Tempo(96.04, 0.5), "estimate", 0.934))
    wanted = "  tempo: 96.0 quarters a minute, bar 1 at 0.50 s (estimated, 93 % sure of the pulse, not of the bar)"
    assert line == wanted
    assert tempo_lines(auto, None) == ["  tempo: none that is steady was found; --tempo N says it"]
    assert tempo_lines(TakeSettings(tempo=96.0), KnownTempo(Tempo(96.0, 0.5), "option")) == []


@pytest.mark.parametrize(("bar_1_s", "told"), [(None, 0), (0.5, 0), (4.0, 0), (4.5, 1)])
def test_a_bar_1_after_the_end_is_told_with_what_to_do(bar_1_s: float | None, told: int) -> None:
    """How long a recording is, is only certain when it has been heard."""
    lines = bar_lines(TakeSettings(tempo=96.0, bar_1_s=bar_1_s), 4.0, Path("takes/solo"))
    assert lines == ["  bar 1 at 4.5 s is after its end: reedwire rebuild takes/solo --bar-1 TIME says another"] * told


def test_a_bar_1_after_the_end_that_a_file_tells_is_told_before_it_is_heard(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tone: Path, tmp_path: Path
) -> None:
    """One line on standard error; the take is made all the same, and afterwards it is said how to mend it."""
    length_s = soundfile.info(tone).duration
    heard = False

    def hear(path: Path, *rest: object) -> TranscribeReport:
        nonlocal heard
        heard = True
        wanted = f"{tone}: bar 1 at 90 s is after its end at {length_s:.1f} s; stop it with Ctrl-C to give another."
        assert " ".join(capsys.readouterr().err.split()) == wanted
        return transcribe_file(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("bridge.cli.transcribe.transcribe_file", hear)
    words = ("transcribe", str(tone), "--out", str(tmp_path / "takes"), "--tempo", "96", "--bar-1", "90")
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert heard
    assert (status, err) == (0, "")
    assert "bar 1 at 90 s is after its end: reedwire rebuild" in out


@pytest.mark.parametrize(("tempo", "bar_1_s"), [(None, None), (None, 90.0), (96.0, None), (96.0, 0.5), ("auto", 1.0)])
def test_nothing_is_said_of_a_bar_1_before_the_end(tone: Path, tempo: float | str | None, bar_1_s: float) -> None:
    """Nor of one that means nothing, nor of a file that is not there, of which other words are said."""
    assert bar_warnings(TakeSettings(tempo=tempo, bar_1_s=bar_1_s), tone) == []
    assert bar_warnings(TakeSettings(tempo=96.0, bar_1_s=90.0), tone.with_name("missing.wav")) == []
