"""What a user gets wrong, through the real command: one plain message, the right exit status, nothing lost."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from capture.encoding import sine, write_sound_track
from main_job.command import Said, reedwire
from main_job.take_files import read_notes

RATE = 48000


def write_tone(path: Path) -> Path:
    """A second of B4, hole 3 drawn of a C harp, with silence around it."""
    silence = np.zeros(RATE // 4, np.float32)
    soundfile.write(path, np.concatenate([silence, sine(493.88, 1.0, RATE), silence]), RATE, subtype="PCM_16")
    return path


def missing(folder: Path) -> Path:
    """A name with nothing behind it."""
    return folder / "missing.wav"


def empty(folder: Path) -> Path:
    """A file of no bytes."""
    path = folder / "empty.wav"
    path.touch()
    return path


def only_a_header(folder: Path) -> Path:
    """A WAV file that ends after its header, as of a recorder that was never stopped."""
    path = write_tone(folder / "header.wav")
    path.write_bytes(path.read_bytes()[:44])
    return path


def cut_wav(folder: Path) -> Path:
    """A WAV file whose copy stopped half way."""
    path = write_tone(folder / "cut.wav")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    return path


def cut_flac(folder: Path) -> Path:
    """A FLAC file whose copy stopped half way."""
    path = write_tone(folder / "cut.flac")
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    return path


def cut_m4a(folder: Path) -> Path:
    """A voice message that lost its end, where MP4 keeps the table of what is in it."""
    path = folder / "cut.m4a"
    write_sound_track(path, "aac", sine(493.88, 2.0, RATE), RATE)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    return path


def silent(folder: Path) -> Path:
    """A recording of nothing: the wrong microphone."""
    path = folder / "silent.wav"
    soundfile.write(path, np.zeros(RATE, np.float32), RATE, subtype="PCM_16")
    return path


def text(folder: Path) -> Path:
    """A text that is called a sound."""
    path = folder / "notes.wav"
    path.write_text("draw 2, draw 3 bent, draw 4\n" * 100, encoding="utf-8")
    return path


def noise_bytes(folder: Path) -> Path:
    """Bytes without any order."""
    path = folder / "bytes.mp3"
    path.write_bytes(np.random.default_rng(7).bytes(20000))
    return path


def a_folder(folder: Path) -> Path:
    """A folder given for a file."""
    path = folder / "recordings"
    path.mkdir()
    return path


def mute_video(folder: Path) -> Path:
    """A video without a sound track."""
    path = folder / "mute.mp4"
    write_sound_track(path, "aac", None, RATE, video="mpeg4")
    return path


#: Files from which nothing can be had, and words that the message must hold.
BAD_FILES: tuple[tuple[Callable[[Path], Path], str], ...] = (
    (missing, "does not exist"),
    (empty, "empty"),
    (only_a_header, "no samples|no sound|cut short"),
    (cut_m4a, "cut short|damaged"),
    (silent, "silent"),
    (text, "no sound"),
    (noise_bytes, "no sound|damaged|no samples"),
    (a_folder, "folder"),
    (mute_video, "no sound track"),
)


def one_complaint(said: Said, *words: str) -> None:
    """Exactly one line on standard error, in plain words, that holds each of ``words`` (regular expressions)."""
    assert said.accidents == []
    assert len(said.err.splitlines()) == 1, said.err
    (line,) = said.complaints
    for word in words:
        assert re.search(word, line), line


def written(out: Path) -> list[str]:
    """Everything in a folder of takes, at any depth."""
    return sorted(str(path.relative_to(out)) for path in out.rglob("*"))


@pytest.mark.parametrize(("make", "words"), BAD_FILES, ids=[make.__name__ for make, _ in BAD_FILES])
def test_a_bad_file_gets_one_plain_message(make: Callable[[Path], Path], words: str, tmp_path: Path) -> None:
    """It says which file and what is wrong, ends with a piece of advice, status 2, and leaves no folder behind."""
    path, out = make(tmp_path), tmp_path / "out"
    said = reedwire("transcribe", path, "--out", out)
    assert said.status == 2
    one_complaint(said, re.escape(str(path)), words, r"\. [A-Z].+\.?$")
    assert said.out == ""
    assert written(out) == []


@pytest.mark.parametrize("make", [cut_wav, cut_flac])
def test_of_a_file_that_was_cut_short_the_beginning_is_kept(make: Callable[[Path], Path], tmp_path: Path) -> None:
    """The message says that it is cut short and where the notes before that lie; status 2."""
    path, out = make(tmp_path), tmp_path / "out"
    said = reedwire("transcribe", path, "--out", out)
    assert said.status == 2
    one_complaint(said, re.escape(str(path)), "cut short|damaged", re.escape(str(out / "cut")))
    assert [(note.midi_note, note.degree) for note in read_notes(out / "cut")] == [(71, "3")]  # B4 over G


def test_one_bad_file_does_not_stop_the_others(tmp_path: Path) -> None:
    """Of three files the two good ones become takes; the status is 1 and the bad one is named."""
    first, last = write_tone(tmp_path / "first.wav"), write_tone(tmp_path / "last.flac")
    bad, out = text(tmp_path), tmp_path / "out"
    said = reedwire("transcribe", first, bad, last, "--out", out)
    assert said.status == 1
    assert said.accidents == []
    (complaint,) = said.complaints
    assert str(bad) in complaint
    assert "1 of 3" in said.err
    assert sorted(path.name for path in out.iterdir()) == ["first", "last"]
    for take in ("first", "last"):
        assert [(note.midi_note, note.degree) for note in read_notes(out / take)] == [(71, "3")]  # B4 over G


def test_every_bad_file_of_many_is_told(tmp_path: Path) -> None:
    """When none can be used each has its message and the status is 2."""
    said = reedwire("transcribe", missing(tmp_path), empty(tmp_path), silent(tmp_path), "--out", tmp_path / "out")
    assert said.status == 2
    assert said.accidents == []
    assert len(said.complaints) == 3
    for line, name in zip(said.complaints, ("missing.wav", "empty.wav", "silent.wav"), strict=True):
        assert name in line


def test_a_take_that_is_there_is_never_touched(tmp_path: Path) -> None:
    """The second transcription of a file goes into a folder beside the first, which keeps every byte."""
    sound, out = write_tone(tmp_path / "solo.wav"), tmp_path / "out"
    assert reedwire("transcribe", sound, "--out", out).status == 0
    before = {path.name: path.read_bytes() for path in (out / "solo").iterdir()}
    said = reedwire("transcribe", sound, "--out", out)
    assert said.status == 0
    assert {path.name: path.read_bytes() for path in (out / "solo").iterdir()} == before
    (other,) = (path for path in out.iterdir() if path.name != "solo")
    assert str(other) in said.out
    assert set(before) == {path.name for path in other.iterdir()}


def test_two_files_of_one_name_become_two_takes(tmp_path: Path) -> None:
    """``solo.wav`` and ``solo.flac`` in one command do not share a folder."""
    sounds = write_tone(tmp_path / "solo.wav"), write_tone(tmp_path / "solo.flac")
    out = tmp_path / "out"
    assert reedwire("transcribe", *sounds, "--out", out).status == 0
    assert [len(read_notes(take)) for take in out.iterdir()] == [1, 1]


@pytest.mark.parametrize("command", [("transcribe", "solo.wav"), ("demo", "--fast")], ids=["transcribe", "demo"])
def test_a_folder_that_cannot_be_made_is_told(command: tuple[str, ...], tmp_path: Path) -> None:
    """``--out`` below a file cannot be a folder, not even for root: the message names it."""
    write_tone(tmp_path / "solo.wav")
    out = tmp_path / "solo.wav" / "takes"
    said = reedwire(*command, "--out", out, cwd=tmp_path)
    assert said.status == 2
    one_complaint(said, re.escape(str(out)), "[Cc]hoose another folder")


#: Becomes the command that follows, with a limit on what it may write.
FULL_DISK = """
import os, resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
os.execv(sys.argv[1], sys.argv[1:])
"""


def test_a_disk_that_takes_no_more_is_told(tmp_path: Path) -> None:
    """When nothing can be written (a limit of 0 bytes, which holds for root too) the message says so; nothing stays."""
    sound, out = write_tone(tmp_path / "solo.wav"), tmp_path / "out"
    out.mkdir()
    said = reedwire("transcribe", sound, "--out", out, through=(sys.executable, "-c", FULL_DISK))
    assert said.status == 2
    one_complaint(said, re.escape(str(out)), "[Cc]hoose another folder")
    assert written(out) == []


#: ``--set`` words, the key that the message must name, what was found, and words of what is allowed.
BAD_SETS = (
    ("harp.kee=C", "harp.kee", "kee", "key"),
    ("harpp.key=C", "harpp", "harpp", "harp"),
    ("harp.a4_hz=300", "harp.a4_hz", "300", "400.*480"),
    ("harp.a4_hz=high", "harp.a4_hz", "high", "number"),
    ("harp.key=H", "harp.key", "H", "Bb"),
    ("harp.position=13", "harp.position", "13", "1 to 12"),
    ("quantise.scale=bluse", "quantise.scale", "bluse", "blues"),
    ("follow.follower=ears", "follow.follower", "ears", "own.*aubio"),
    ("quantise.third.target=700", "quantise.third.target", "700", "zone_high"),
    ("quantise.velocity=0", "quantise.velocity", "0", "1 to 127"),
    ("send.midi.bend_range=2.5", "send.midi.bend_range", "2.5", "whole number"),
    ("send.midi=3", "send.midi", "3", "bend_range"),
    ("send.osc.to=nowhere", "send.osc.to", "nowhere", "HOST:PORT"),
)


@pytest.mark.parametrize(("word", "key", "found", "allowed"), BAD_SETS, ids=[word for word, *_ in BAD_SETS])
def test_a_bad_setting_is_told_with_what_is_allowed(
    word: str, key: str, found: str, allowed: str, tmp_path: Path
) -> None:
    """``--set``: one message with the word itself, the key, what was found and what is allowed; status 2."""
    sound, out = write_tone(tmp_path / "solo.wav"), tmp_path / "out"
    said = reedwire("transcribe", sound, "--out", out, "--set", word)
    assert said.status == 2
    one_complaint(said, re.escape(f"--set {word}"), rf"{re.escape(key)}: found '?{found}'?, allowed: .*{allowed}")
    assert not out.exists() or written(out) == []


def test_a_word_without_a_value_is_told(tmp_path: Path) -> None:
    """``--set`` takes key=value."""
    said = reedwire("transcribe", write_tone(tmp_path / "solo.wav"), "--out", tmp_path, "--set", "harp.key")
    assert said.status == 2
    one_complaint(said, "harp.key", "key=value")


#: Lines of a preset, the line that is wrong, and what the message must hold after file and line.
BAD_PRESETS = {
    "syntax error": ("harp:\n  key: C\n  a4_hz: [440\nsend: {}\n", (3, 4), ("YAML",)),
    "unbalanced quotes": ('harp:\n  key: "C\n', (2, 3), ("YAML",)),
    "unknown key": ("harp:\n  key: C\n  tuning: just\n", (3,), ("harp.tuning", "found 'tuning'", "allowed: .*a4_hz")),
    "unknown group": ("# mine\nharmonica:\n  key: C\n", (2,), ("harmonica", "found", "allowed: .*harp")),
    "wrong type": ("harp:\n  a4_hz: high\n", (2,), ("harp.a4_hz", "found 'high'", "allowed: .*number.*400.*480")),
    "out of range": ("send:\n  midi:\n    channel: 17\n", (3,), ("send.midi.channel", "found 17", "allowed: .*1.*16")),
    "a list for a group": ("send:\n  - midi\n", (1,), ("send", "found", "allowed: .*midi")),
    "given twice": ("harp:\n  key: C\n  key: D\n", (3,), ("key", "twice")),
    "no mapping": ("just words\n", (1,), ("just words",)),
}


@pytest.mark.parametrize("case", list(BAD_PRESETS))
def test_a_bad_preset_is_told_with_file_and_line(case: str, tmp_path: Path) -> None:
    """A YAML file of the user's: one message with its name, the line, key, what was found and is allowed; status 2."""
    content, lines, words = BAD_PRESETS[case]
    preset = tmp_path / "mine.yaml"
    preset.write_text(content, encoding="utf-8")
    sound = write_tone(tmp_path / "solo.wav")
    said = reedwire("transcribe", sound, "--out", tmp_path / "out", "--preset", preset)
    assert said.status == 2
    one_complaint(said, *words)
    assert any(f"{preset}:{line}:" in said.err for line in lines), said.err


def test_a_preset_that_is_not_there_is_told_with_those_there_are(tmp_path: Path) -> None:
    """By name and by file: the message lists the presets."""
    sound = write_tone(tmp_path / "solo.wav")
    for preset in ("stag", "mine.yaml"):
        said = reedwire("transcribe", sound, "--out", tmp_path / "out", "--preset", preset)
        assert said.status == 2
        one_complaint(said, re.escape(preset), "classroom.*recording.*stage")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--input", "missing.wav", "--midi", "none"), "missing.wav.*does not exist"),
        (("--input", "solo.wav", "--midi", "no such port"), "no such port"),
        (("--input", "solo.wav", "--midi", "none", "--osc", "nowhere"), "nowhere"),
        (("--input", "solo.wav", "--harp", "H"), "H.*Bb"),
    ],
    ids=["input", "midi", "osc", "harp"],
)
def test_play_tells_what_it_cannot_open(arguments: tuple[str, ...], words: str, tmp_path: Path) -> None:
    """A wrong input, port, address or harp: the last line says so, status 2, nothing hangs."""
    write_tone(tmp_path / "solo.wav")
    said = reedwire("play", *arguments, "--set", "send.osc.listen=none", cwd=tmp_path)
    assert said.status == 2
    assert said.accidents == []
    (complaint,) = said.complaints
    assert re.search(words, complaint), complaint


def test_an_unknown_option_is_told_without_a_traceback(tmp_path: Path) -> None:
    """A misspelt option ends with status 2 and names the option."""
    said = reedwire("transcribe", write_tone(tmp_path / "solo.wav"), "--ouf", tmp_path)
    assert said.status == 2
    assert said.accidents == []
    assert "--ouf" in said.err
