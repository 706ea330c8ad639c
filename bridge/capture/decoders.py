"""Sound files as streams of mono pieces at the file's own rate: libsndfile first, FFmpeg for what it does not know.

Conventions: pieces are float32 of shape (n,), full scale +-1, the mean of all channels; nothing is held but one piece.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import SoundError
from bridge.capture.cut_short import ends_within_a_page, share_there
from bridge.capture.source import without_nonsense

if TYPE_CHECKING:
    from av.audio.stream import AudioStream
    from av.container import InputContainer

FORMATS = "WAV, FLAC, OGG, MP3, M4A, MP4, MOV, WEBM or Opus"

_PIECE = 16384
_FFMPEG_TICKS = 1_000_000
_LOWEST_RATE, _HIGHEST_RATE = 1000, 1_000_000


@dataclass(frozen=True, slots=True)
class Piece:
    """Mono samples and how many values in them were no numbers and made 0."""

    samples: NDArray[np.float32]
    repaired: int


@dataclass(frozen=True, slots=True)
class Decoder:
    """An open sound file.

    ``promised_s`` is the length that the file says it has, None if it says nothing. ``pieces`` raises DamagedError at
    its end when parts of the file could not be decoded.
    """

    rate: int
    promised_s: float | None
    pieces: Iterator[Piece]
    close: Callable[[], None]


class DamagedError(Exception):
    """Some of the file could not be decoded; everything that could be has been given."""


def open_decoder(path: Path) -> Decoder:
    """Open a sound file or the sound track of a video.

    Raises SoundError when it is missing, a folder, empty, without a sound track, or nothing that can be decoded.
    """
    _check_file(path)
    decoder = _open_with_libsndfile(path) or _open_with_ffmpeg(path)
    if not _LOWEST_RATE <= decoder.rate <= _HIGHEST_RATE:
        decoder.close()
        raise SoundError(path, f"claims a sample rate of {decoder.rate} Hz", f"Convert it to {FORMATS} at 48000 Hz")
    return decoder


def _check_file(path: Path) -> None:
    """Refuse what no decoder needs to look at."""
    if path.is_dir():
        raise SoundError(path, "is a folder", "Name the sound files in it")
    if not path.is_file():
        raise SoundError(path, "does not exist", "Check the name and the folder")
    try:
        with path.open("rb"):
            size = path.stat().st_size
    except OSError as error:
        raise SoundError(path, f"cannot be opened ({error.strerror})", "Check who may read it") from error
    if size == 0:
        raise SoundError(path, "is empty (0 bytes)", "Copy or record it again")


def _open_with_libsndfile(path: Path) -> Decoder | None:
    """The file through libsndfile; None when that does not know it or finds nothing in it."""
    import soundfile

    class ForwardOnly(soundfile.SoundFile):  # type: ignore[misc]
        """A file that is never wound: soundfile seeks after each read, and in MP3 that mutes some 30 ms each time."""

        def seekable(self) -> bool:
            return False

    try:
        with _hushed():
            # As bytes: soundfile refuses a name that is no UTF-8.
            file = ForwardOnly(os.fsencode(path))
    except soundfile.LibsndfileError:
        return None
    if file.frames == 0:
        file.close()
        return None

    def pieces() -> Iterator[Piece]:
        while True:
            try:
                with _hushed():
                    samples = file.read(_PIECE, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError as error:
                raise DamagedError from error
            if not len(samples):
                break
            yield _mixed(samples)
        if ends_within_a_page(path):
            raise DamagedError

    return Decoder(file.samplerate, file.frames / file.samplerate / share_there(path), pieces(), file.close)


@contextmanager
def _hushed() -> Iterator[None]:
    """Keep libmpg123, which libsndfile reads MP3 with, from writing its own remarks to the terminal."""
    sys.stderr.flush()
    terminal = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(terminal, 2)
        os.close(terminal)
        os.close(nowhere)


def _open_with_ffmpeg(path: Path) -> Decoder:
    """The first sound track through FFmpeg."""
    import av

    try:
        container = av.open(str(path))
    except av.error.FFmpegError as error:
        advice = f"Give {FORMATS}; if it is one of these, it is damaged or cut short: copy it again"
        raise SoundError(path, "holds no sound that can be read", advice) from error
    if not container.streams.audio:
        container.close()
        raise SoundError(path, "has no sound track", "Record it again with the microphone on")
    stream = container.streams.audio[0]
    return Decoder(stream.rate, _promised_s(container, stream), _ffmpeg_pieces(container, stream), container.close)


def _promised_s(container: InputContainer, stream: AudioStream) -> float | None:
    """Seconds of sound that the file says it has: of the track itself, or of a file that has no other."""
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    if tag := stream.metadata.get("DURATION"):  # as Matroska and WEBM say it: 00:00:05.008000000
        hours, minutes, seconds = tag.split(":")
        return 3600.0 * int(hours) + 60.0 * int(minutes) + float(seconds)
    if container.duration and len(container.streams) == 1:
        return container.duration / _FFMPEG_TICKS
    return None


def _ffmpeg_pieces(container: InputContainer, stream: AudioStream) -> Iterator[Piece]:
    """The pieces of a sound track; what cannot be decoded is left out and told at the end."""
    import av

    plain = av.AudioResampler(format="fltp", rate=stream.rate)
    damaged = False
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets, None)
            if packet is None:
                break
            frames = [part for frame in packet.decode() for part in plain.resample(frame)]
        except (av.error.FFmpegError, ValueError):
            # A packet that cannot be decoded, or a change of channels in mid-stream: the rest may still be good.
            damaged = True
            continue
        for frame in frames:
            yield _mixed(frame.to_ndarray().astype(np.float32, copy=False).T)
    if damaged:
        raise DamagedError


def _mixed(samples: NDArray[np.float32]) -> Piece:
    """Frames of shape (n, channels) as one piece."""
    sound, wrong = without_nonsense(samples)
    return Piece(np.ascontiguousarray(sound.mean(axis=1, dtype=np.float32)), wrong)
