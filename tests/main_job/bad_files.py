"""Files that a user may give by mistake, and how a complaint about one looks."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile

from capture.encoding import write_sound_track
from follow.tones import harmonic_tone
from main_job.command import Said

RATE = 48000


def write_tone(path: Path) -> Path:
    """A second of B4, hole 3 drawn of a C harp, with silence around it."""
    silence = np.zeros(RATE // 4, np.float32)
    soundfile.write(
        path, np.concatenate([silence, harmonic_tone(493.88, 1.0, rate=RATE), silence]), RATE, subtype="PCM_16"
    )
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
    write_sound_track(path, "aac", harmonic_tone(493.88, 2.0, rate=RATE), RATE)
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
