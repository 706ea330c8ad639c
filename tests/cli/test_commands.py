"""The commands from the outside: what they print, what they leave behind, and how they end."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile

from bridge.cli.cautions import CAUTIONS
from bridge.cli.main import main

_RATE = 48000


def _run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[int, str, str]:
    """Exit status and both outputs of ``reedwire`` in this process."""
    monkeypatch.setattr(sys, "argv", ["reedwire", *words])
    with pytest.raises(SystemExit) as caught:
        main()
    out, err = capsys.readouterr()
    return int(caught.value.code or 0), out, err


def _started(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """``reedwire`` in a process of its own with neither terminal nor MIDI; its outputs are pipes."""
    command = [sys.executable, "-m", "bridge.cli.main", *words]
    return subprocess.run(
        command, check=False, cwd=cwd, capture_output=True, text=True, timeout=120, stdin=subprocess.DEVNULL
    )


@pytest.fixture
def tone(tmp_path: Path) -> Path:
    """A recording of one steady reed-like tone of 0.6 s on B4, draw 3 of a C harp, between silences."""
    time = np.arange(round(1.2 * _RATE)) / _RATE
    wave = sum(0.2 / n * np.sin(2 * np.pi * 493.883 * n * time) for n in (1, 2, 3, 4))
    sounding = np.interp(time, [0.0, 0.3, 0.32, 0.88, 0.9, 1.2], [0, 0, 1, 1, 0, 0])
    file = tmp_path / "draw three.wav"
    soundfile.write(file, wave * sounding, _RATE)
    return file


def test_version_and_help(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """--version tells the installed version; each --help ends well and names the options."""
    assert _run(capsys, monkeypatch, "--version") == (0, f"reedwire {version('reedwire')}\n", "")
    status, out, _ = _run(capsys, monkeypatch, "--help")
    assert status == 0
    for command, option in (
        ("demo", "--fast"),
        ("play", "--seconds"),
        ("transcribe", "--out"),
        ("devices", "--help"),
        ("panic", "--midi"),
    ):
        assert command in out
        status, text, _ = _run(capsys, monkeypatch, command, "--help")
        assert status == 0
        assert option in text
    for command in ("demo", "play", "transcribe"):
        _, text, _ = _run(capsys, monkeypatch, command, "--help")
        for option in ("--harp", "--position", "--scale", "--a4", "--follower", "--preset", "--set"):
            assert option in text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["play", "--a4", "44"], "harp.a4_hz: found 44.0, allowed: a number from 400.0 to 480.0"),
        (["play", "--harp", "H"], "There is no harp in the key 'H'"),
        (["play", "--preset", "nosuch"], "no such preset"),
        (["play", "--set", "harp.a4=442"], "harp.a4_hz (the nearest)"),
        (["play", "--osc", "nowhere"], "no HOST:PORT"),
        (["play", "--input", "missing.wav", "--midi", "none"], "missing.wav: does not exist"),
        (["transcribe", "missing.wav", "--out", "takes"], "missing.wav: does not exist"),
        (["demo", "--position", "13"], "There is no position"),
        (["transcribe", "x.wav", "--out", "file"], "file cannot hold takes"),
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
    status, out, err = _run(capsys, monkeypatch, *words)
    assert status == 2
    assert said in err
    assert "Traceback" not in out + err


def test_transcribe_leaves_one_take_a_file_and_says_what_it_found(tone: Path, tmp_path: Path) -> None:
    """Each recording gets a folder named after it; the tone of draw 3 is one note, the third, in the middle of it."""
    run = _started("transcribe", tone, "--out", "takes", "--harp", "C", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    folder = tmp_path / "takes" / "draw three"
    assert {"take.yaml", "curve.csv", "notes.csv", "performance.mid"} <= {file.name for file in folder.iterdir()}
    with (folder / "notes.csv").open(newline="", encoding="utf-8") as file:
        (note,) = csv.DictReader(file)
    # Draw 3 of a C harp is B4 (common practice, the ten-hole layout of OEIS A291810), the third of G; MIDI note 71.
    assert (note["midi_note"], note["degree"], note["hole"], note["air"]) == ("71", "3", "3", "draw")
    assert float(note["start_s"]) == pytest.approx(0.3, abs=0.03)
    assert "1 note in" in run.stdout
    assert str(Path("takes") / "draw three") in run.stdout


def test_one_bad_file_among_many_does_not_stop_the_others(tone: Path, tmp_path: Path) -> None:
    """Empty, silent, torn and non-audio files are each told in one line; the good one is done; the status is 1."""
    (tmp_path / "empty.wav").touch()
    (tmp_path / "letter.wav").write_text("Dear diary, " * 500, encoding="utf-8")
    (tmp_path / "torn.wav").write_bytes(tone.read_bytes()[:30])
    soundfile.write(tmp_path / "silent.wav", np.zeros(_RATE), _RATE)
    bad = ["empty.wav", "letter.wav", "torn.wav", "silent.wav", "missing.wav"]
    run = _started("transcribe", *bad, tone, "--out", "takes", cwd=tmp_path)
    assert run.returncode == 1
    assert "1 note in" in run.stdout
    lines = run.stderr.splitlines()
    for name in bad:
        assert sum(name in line for line in lines) == 1
    assert "5 of 6 files could not be transcribed." in lines
    assert "Traceback" not in run.stderr
    assert [folder.name for folder in (tmp_path / "takes").iterdir()] == ["draw three"]


def test_when_no_file_can_be_used_the_status_is_2(tmp_path: Path) -> None:
    """A request of which nothing could be done is a wrong request."""
    (tmp_path / "empty.wav").touch()
    assert _started("transcribe", "empty.wav", "--out", "takes", cwd=tmp_path).returncode == 2


def test_the_demo_leaves_a_take_and_says_what_next(tmp_path: Path) -> None:
    """Without a terminal the demo prints a line for each note, without escape codes, and says where the files lie."""
    run = _started("demo", "--fast", "--out", "mine", "--osc", "127.0.0.1:9", cwd=tmp_path)
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
    """A sound file is played like a microphone; the cautions come first; the take is kept."""
    run = _started("play", "--input", tone, "--midi", "none", "--osc", "none", "--take", "kept", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert run.stderr.startswith("\n".join(CAUTIONS))
    assert "B4   degree 3" in run.stdout
    assert "1 note in 1.2 s." in run.stdout
    (folder,) = (tmp_path / "kept").iterdir()
    assert (folder / "sound.wav").stat().st_size > _RATE


def test_play_ends_after_the_seconds_it_was_given(tone: Path, tmp_path: Path) -> None:
    """--seconds ends the performance in the middle, the sounding note with it."""
    run = _started("play", "--input", tone, "--midi", "none", "--osc", "none", "--seconds", "0.6", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "1 note in 0.6 s." in run.stdout


def test_a_reader_that_goes_away_ends_nothing_but_the_reading(tone: Path, tmp_path: Path) -> None:
    """With its output's reader gone the performance goes on to its end and leaves its take, without a traceback."""
    reader, writer = os.pipe()
    os.close(reader)
    command = [sys.executable, "-m", "bridge.cli.main", "play", "--input", str(tone), "--midi", "none", "--osc", "none"]
    with os.fdopen(writer, "wb") as gone:
        run = subprocess.run(
            [*command, "--take", "kept"],
            check=False,
            cwd=tmp_path,
            stdout=gone,
            stderr=subprocess.PIPE,
            text=True,
            timeout=120,
        )
    assert "Traceback" not in run.stderr
    (folder,) = (tmp_path / "kept").iterdir()
    assert len((folder / "notes.csv").read_text(encoding="utf-8").splitlines()) == 2


def test_devices_lists_or_says_that_there_is_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sound inputs and MIDI ports each have their heading, with what there is or the word none."""
    status, out, _ = _run(capsys, monkeypatch, "devices")
    sound, midi = out.split("\n\n")
    assert status == 0
    for part, heading in ((sound, "Sound inputs, for --input:"), (midi, "MIDI ports, for --midi:")):
        first, *rest = part.strip().splitlines()
        assert first == heading
        assert rest


def test_panic_without_any_port_says_so(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing can be silenced the command says so instead of claiming success."""
    monkeypatch.setattr("bridge.cli.panic.list_midi_ports", list)
    status, out, err = _run(capsys, monkeypatch, "panic")
    assert (status, out) == (2, "")
    assert "no MIDI port" in err
    status, _, err = _run(capsys, monkeypatch, "panic", "--midi", "no such port anywhere")
    assert status == 2
    assert "no such port anywhere" in err
