"""``reedwire transcribe``: a batch in which each file stands for itself."""

from __future__ import annotations

import csv
import os
import re
from dataclasses import replace
from pathlib import Path

import librosa
import mido
import numpy as np
import pytest
import soundfile

from bridge.wiring.offline import TranscribeReport, transcribe_file
from cli.commands import run_here, started
from demo_run import Demo
from sounds.sampled import sampled

_RATE = 48000


def test_transcribe_leaves_one_take_a_file_and_says_what_it_found(tone: Path, tmp_path: Path) -> None:
    """Each recording gets a folder named after it; the tone of draw 3 is one note, the third, in the middle of it."""
    run = started("transcribe", tone, "--out", "takes", "--harp", "C", cwd=tmp_path)
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


def _deep_bend(path: Path) -> Path:
    """B4 for half a second, let down three semitones to Ab4 and back within a second: the deepest bend of draw 3."""
    time = np.arange(round(2.0 * _RATE)) / _RATE
    cents = np.interp(time, [0.0, 0.5, 0.8, 1.2, 1.5, 2.0], [0.0, 0.0, -300.0, -300.0, 0.0, 0.0])
    phase = 2 * np.pi * np.cumsum(493.883 * 2 ** (cents / 1200)) / _RATE
    soundfile.write(path, sum(0.2 / n * np.sin(n * phase) for n in (1, 2, 3, 4)), _RATE)
    return path


@pytest.mark.parametrize(
    ("words", "semitones", "notes"),
    [
        ((), 12, 1),
        (("--preset", "stage"), 12, 1),
        (("--set", "send.midi.bend_range=2"), 2, 2),
        (("--preset", "mine.yaml"), 2, 2),
        (("--set", "send.midi.bend_range=48"), 48, 1),
    ],
)
def test_the_deepest_bend_stays_one_note_unless_the_user_wants_a_narrow_range(
    words: tuple[str, ...], semitones: int, notes: int, tmp_path: Path
) -> None:
    """The MIDI file states a range of 12 semitones by RPN 0 (MIDI 1.0, 4.2.1); what the user sets wins."""
    (tmp_path / "mine.yaml").write_text("send:\n  midi:\n    bend_range: 2\n", encoding="utf-8")
    run = started("transcribe", _deep_bend(tmp_path / "deep.wav"), "--out", "takes", *words, cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    file = mido.MidiFile(tmp_path / "takes" / "deep" / "performance.mid")
    opening = [(message.control, message.value) for message in file if message.type == "control_change"][:4]
    assert opening == [(101, 0), (100, 0), (6, semitones), (38, 0)]
    bends = [message.pitch for message in file if message.type == "pitchwheel"]
    assert len([message for message in file if message.type == "note_on" and message.velocity > 0]) == notes
    if notes == 1:
        assert min(bends) / 8192 * semitones * 100 == pytest.approx(-300.0, abs=3.0)


def test_the_list_and_the_table_agree(demo: Demo, tmp_path: Path) -> None:
    """Of every note of the demo, glides included, --list names the note, the hole and the degree of notes.csv."""
    run = started("transcribe", demo.take / "sound.wav", "--out", "takes", "--list", cwd=tmp_path)
    _, *lines = run.stdout.splitlines()
    with (tmp_path / "takes" / "sound" / "notes.csv").open(newline="", encoding="utf-8") as file:
        rows = [(int(row["midi_note"]), row["degree"], row["air"], row["hole"]) for row in csv.DictReader(file)]
    told = [re.match(r" *[\d.]+ s  (\S+) +([-+])(\d+)o?'*\?? +.*?degree (\S+), ", line) for line in lines]
    airs = {"-": "draw", "+": "blow"}
    spelled = [(librosa.note_to_midi(found[1]), found[4], airs[found[2]], found[3]) for found in told if found]
    assert spelled == rows
    assert len(rows) > 30


def test_one_bad_file_among_many_does_not_stop_the_others(tone: Path, tmp_path: Path) -> None:
    """Empty, silent, torn and non-audio files are each told in one line; the good one is done; the status is 1."""
    (tmp_path / "empty.wav").touch()
    (tmp_path / "letter.wav").write_text("Dear diary, " * 500, encoding="utf-8")
    (tmp_path / "torn.wav").write_bytes(tone.read_bytes()[:30])
    soundfile.write(tmp_path / "silent.wav", np.zeros(_RATE), _RATE)
    bad = ["empty.wav", "letter.wav", "torn.wav", "silent.wav", "missing.wav"]
    run = started("transcribe", *bad, tone, "--out", "takes", cwd=tmp_path)
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
    assert started("transcribe", "empty.wav", "--out", "takes", cwd=tmp_path).returncode == 2


def test_a_fault_of_ours_with_one_file_does_not_stop_the_others(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tone: Path, tmp_path: Path
) -> None:
    """An exception that nobody foresaw is told in one line with the file's name; the next file is done; status 1."""

    def faulty(path: Path, *rest: object) -> TranscribeReport:
        if path.name == "odd.wav":
            raise RuntimeError("two\nlines")
        return transcribe_file(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("bridge.cli.transcribe.transcribe_file", faulty)
    words = ("transcribe", "odd.wav", str(tone), "--out", str(tmp_path / "takes"))
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert status == 1
    assert "1 note in" in out
    first, last = err.splitlines()
    assert first.startswith("reedwire: odd.wav: ")
    assert "two lines" in first
    assert last == "1 of 2 files could not be transcribed."


def test_what_was_left_out_is_told(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tone: Path, tmp_path: Path
) -> None:
    """Below the line of the file a line for each of a few pieces, near ones joined, and the sum of many."""
    spans = [(3.2, 5.0, "voice"), (5.5, 5.8, "noise"), (7.0, 7.25, "noise")]

    def with_talk(path: Path, *rest: object) -> TranscribeReport:
        report = transcribe_file(path, *rest)  # type: ignore[arg-type]
        return replace(report, left_out=tuple(spans))

    monkeypatch.setattr("bridge.cli.transcribe.transcribe_file", with_talk)
    words = ("transcribe", str(tone), "--out", str(tmp_path / "takes"))
    _, out, _ = run_here(capsys, monkeypatch, *words)
    assert out.splitlines()[1:] == [
        "  left out: 3.2 to 5.8 s, talk or noise",
        "  left out: 7.0 to 7.2 s, talk or noise",
    ]
    spans += [(9.0, 9.5, "voice"), (11.0, 12.0, "voice")]
    _, out, _ = run_here(capsys, monkeypatch, *words)
    assert out.splitlines()[1:] == ["  left out: 4.3 s of talk or noise, in 4 pieces (take.yaml says where)"]


def test_the_harp_of_a_recording_is_found_if_asked_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """``--harp auto`` names key, position, certainty and runner-up, and the take is on that harp."""
    phrase = sampled("phrase", "A")
    soundfile.write(tmp_path / "phrase.wav", phrase.samples, phrase.rate)
    words = ("transcribe", str(tmp_path / "phrase.wav"), "--out", str(tmp_path / "takes"), "--harp", "auto")
    status, out, _ = run_here(capsys, monkeypatch, *words)
    assert status == 0
    first, second = out.splitlines()[:2]
    assert "heard as A harp, cross position" in first
    assert re.fullmatch(
        r"  (found|uncertain which harp): A harp, cross position \(\d+ %.*\).*A4 4[34]\d\.\d Hz.*", second
    )
    assert "key: A" in (tmp_path / "takes" / "phrase" / "take.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("named", [("--position", "3"), ("--a4", "442"), ("--harp-file", "mine.yaml")])
def test_what_is_to_be_found_cannot_be_named(
    named: tuple[str, str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """``--harp auto`` together with position, A4 or harp file is refused in one sentence."""
    words = ("transcribe", "any.wav", "--out", str(tmp_path), "--harp", "auto", *named)
    status, _, err = run_here(capsys, monkeypatch, *words)
    assert status == 2
    assert err == f"reedwire: --harp auto finds key, position and A4 itself: leave {named[0]} out, or name the key.\n"


def test_ctrl_c_says_what_was_not_done(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tone: Path, tmp_path: Path
) -> None:
    """In the middle of the second of four files: the first stays, one line tells the rest, status 130."""

    def interrupted(path: Path, *rest: object) -> TranscribeReport:
        if path.name == "long.wav":
            raise KeyboardInterrupt
        return transcribe_file(path, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("bridge.cli.transcribe.transcribe_file", interrupted)
    files = [str(tone), "long.wav", "third.wav", "fourth.wav"]
    status, out, err = run_here(capsys, monkeypatch, "transcribe", *files, "--out", str(tmp_path / "takes"))
    assert status == 130
    assert "1 note in" in out
    assert err == "Stopped: long.wav was not finished; 2 files were not begun.\n"
    assert [folder.name for folder in (tmp_path / "takes").iterdir()] == ["draw three"]


def test_a_name_that_is_no_utf_8_is_a_name_like_others(tone: Path, tmp_path: Path) -> None:
    """Bytes that are no letters do not keep a recording from its take, in which every text file is UTF-8."""
    odd = tmp_path / os.fsdecode(b"caf\xe9.wav")
    odd.write_bytes(tone.read_bytes())
    run = started("transcribe", odd, tmp_path / os.fsdecode(b"gon\xe9.wav"), tone, "--out", "takes", cwd=tmp_path)
    assert run.returncode == 1
    assert run.stdout.count("1 note in") == 2
    assert "Traceback" not in run.stderr
    assert {folder.name for folder in (tmp_path / "takes").iterdir()} == {"caf\ufffd", "draw three"}
    take = tmp_path / "takes" / "caf\ufffd"
    assert "source: caf\ufffd.wav\n" in (take / "take.yaml").read_text(encoding="utf-8")
    assert mido.MidiFile(take / "performance.mid", charset="utf-8").length > 0.5


def test_transcribe_names_harp_and_folder_and_on_request_every_note(tone: Path, tmp_path: Path) -> None:
    """A file's line tells the harp it was heard as, and a folder that another file's name took; --list tells notes."""
    twin = tmp_path / "draw three.flac"
    samples, rate = soundfile.read(tone)
    soundfile.write(twin, samples, rate)
    run = started("transcribe", tone, twin, "--out", "takes", "--harp", "C", "--list", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    first, note, second, same_note = run.stdout.splitlines()
    where = Path("takes") / "draw three"
    assert first == f"{tone}: 1 note in 1.2 s, heard as C harp, cross position, as told, in {where}"
    assert second.startswith(f"{twin}: ")
    assert second.endswith(f"in {where}-2 (draw three was there already)")
    assert re.search(r" s  B4 .*degree 3,", note)
    assert re.search(r" s  B4 .*degree 3,", same_note)
