"""The commands from the outside: what they print, what they leave behind, and how they end."""

from __future__ import annotations

import csv
from importlib.metadata import version
from pathlib import Path

import mido
import pytest

from bridge.cli.cautions import CAUTIONS, HOWL
from cli.commands import run_here, started


def test_version_and_help(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """--version tells the installed version; each --help ends well and names the options."""
    assert run_here(capsys, monkeypatch, "--version") == (0, f"reedwire {version('reedwire')}\n", "")
    status, out, _ = run_here(capsys, monkeypatch, "--help")
    assert status == 0
    for command, option in (
        ("demo", "--fast"),
        ("play", "--seconds"),
        ("transcribe", "--out"),
        ("devices", "--help"),
        ("panic", "--midi"),
    ):
        assert command in out
        status, text, _ = run_here(capsys, monkeypatch, command, "--help")
        assert status == 0
        assert option in text
    for command in ("demo", "play", "transcribe"):
        _, text, _ = run_here(capsys, monkeypatch, command, "--help")
        for option in ("--harp", "--position", "--scale", "--a4", "--follower", "--preset", "--set"):
            assert option in text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["play", "--a4", "44"], "harp.a4_hz: found '44', allowed: a number from 400.0 to 480.0"),
        (["play", "--a4", "abc"], "harp.a4_hz: found 'abc', allowed: a number from 400.0 to 480.0"),
        (["play", "--harp", "H"], "harp.key: found 'H', allowed: low-C, low-Db, "),
        (["play", "--preset", "nosuch"], "no such preset"),
        (["play", "--set", "harp.a4=442"], "harp.a4_hz (the nearest)"),
        (["play", "--osc", "nowhere"], "found 'nowhere', allowed: HOST:PORT, such as"),
        (["play", "--input", "missing.wav", "--midi", "none"], "missing.wav: does not exist"),
        (["transcribe", "missing.wav", "--out", "takes"], "missing.wav: does not exist"),
        (["demo", "--position", "13"], "harp.position: found '13', allowed: 1 to 12, or first"),
        (["transcribe", "x.wav", "--out", "file"], "file is a file, not a folder."),
        (["transcribe", "x.wav", "--out", "file/below"], "file is a file, not a folder."),
        *((["panic", "--midi", name], "needs a port that is there") for name in ("auto", "virtual", "none")),
        (["play", "--unknown"], "No such option"),
        (["transcribe", "--out", "takes"], "Missing argument"),
    ],
)
def test_what_cannot_be_done_gets_one_message_and_status_2(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    words: list[str],
    said: str,
) -> None:
    """A wrong request ends with status 2 and a message in plain words, never a traceback."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").touch()
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert status == 2
    assert said in err
    assert "Traceback" not in out + err


def test_the_demo_leaves_a_take_and_says_what_next(tmp_path: Path) -> None:
    """Without a terminal the demo prints a line for each note, without escape codes, and says where the files lie."""
    run = started("demo", "--fast", "--out", "mine", "--osc", "127.0.0.1:9", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "\x1b" not in run.stdout + run.stderr
    (folder,) = (tmp_path / "mine").iterdir()
    with (folder / "notes.csv").open(newline="", encoding="utf-8") as file:
        notes = list(csv.DictReader(file))
    told = [line for line in run.stdout.splitlines() if " degree " in line and "cents" in line]
    assert len(told) == len(notes) > 30
    assert f"{len(notes)} notes" in run.stdout
    assert f"The take lies in {Path('mine') / folder.name}" in run.stdout
    assert "play --harp C " in run.stdout[run.stdout.index("Next:") :]
    ons = [message for message in mido.MidiFile(folder / "performance.mid") if message.type == "note_on"]
    assert len([message for message in ons if message.velocity > 0]) == len(notes)


def test_play_takes_a_file_shows_cautions_and_keeps_the_take(tone: Path, tmp_path: Path) -> None:
    """A sound file is played like a microphone; the cautions for it come first; the take is kept."""
    run = started("play", "--input", tone, "--midi", "none", "--osc", "none", "--take", "kept", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert run.stderr.splitlines() == [line for line in CAUTIONS if line != HOWL]
    assert "B4   degree 3" in run.stdout
    assert "1 note in 1.2 s." in run.stdout
    (folder,) = (tmp_path / "kept").iterdir()
    assert (folder / "sound.wav").stat().st_size > 48000


def test_play_ends_after_the_seconds_it_was_given(tone: Path, tmp_path: Path) -> None:
    """--seconds ends the performance in the middle, the sounding note with it."""
    run = started("play", "--input", tone, "--midi", "none", "--osc", "none", "--seconds", "0.6", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "1 note in 0.6 s." in run.stdout


def test_devices_lists_or_says_that_there_is_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sound inputs and MIDI ports each have their heading, with what there is or the word none."""
    status, out, _ = run_here(capsys, monkeypatch, "devices")
    sound, midi = out.split("\n\n")
    assert status == 0
    for part, heading in ((sound, "Sound inputs, for --input:"), (midi, "MIDI ports, for --midi:")):
        first, *rest = part.strip().splitlines()
        assert first == heading
        assert rest
