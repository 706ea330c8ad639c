"""A rehearsal without end: the same passages again and again, never twice the same breath, noise, level and tuning."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import ExitStack
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock
from bridge.capture.passages import join
from bridge.capture.player import perform
from bridge.capture.rehearsal import rehearsal_passages
from bridge.capture.source import Source
from sounds.rehearsed import RATE, harp_hz

_TUNINGS = 7
_SOFTEST_DB = -8.0


def rehearsal(seed: int) -> tuple[NDArray[np.float32], int]:
    """The whole rehearsal on a C harp as ``seed`` plays it, float32 of shape (n,) at 48 kHz, and how many notes it has.

    A4 is 438 to 444 Hz; the level up to 8 dB below the usual one.
    """
    root_hz, reeds_hz = harp_hz("C", 438.0 + seed % _TUNINGS)
    score = join("rehearsal", rehearsal_passages(root_hz, reeds_hz).values())
    played = perform(score.parts, RATE, seed, length_s=score.length_s)
    gain = 10.0 ** (float(np.random.default_rng([seed, 77]).uniform(_SOFTEST_DB, 0.0)) / 20.0)
    return (played.samples * np.float32(gain)).astype(np.float32), len(played.notes)


def write_rehearsal(seed: int, path: Path) -> int:
    """Write the samples of a rehearsal, one after another; how many notes it has."""
    samples, notes = rehearsal(seed)
    samples.tofile(path)
    return notes


class Endless(Source):
    """Rehearsals one after another until ``seconds`` have been given, in ``block`` samples.

    Each is written to a file by another process while the one before it is played, and read from there block by block,
    so that this process holds nothing but the engine. ``given`` counts the samples so far, ``played`` the notes of the
    rehearsals begun; ``look(seconds)`` is called before each of them.
    """

    name = "endless"
    rate = RATE

    def __init__(self, seconds: float, look: Callable[[float], None], block: int = 1024) -> None:
        self._end = round(seconds * RATE)
        self._look = look
        self._block = block
        self._seed = 0
        self._running = ExitStack()
        self._maker: ProcessPoolExecutor | None = None
        self._folder = Path()
        self._coming: tuple[Path, Future[int]] | None = None
        self._file: BinaryIO | None = None
        self.given = 0
        self.played = 0

    def open(self) -> None:
        """Start the process that makes the sound."""
        self._folder = Path(self._running.enter_context(TemporaryDirectory(prefix="reedwire-soak-")))
        self._maker = self._running.enter_context(ProcessPoolExecutor(1, mp_context=get_context("spawn")))
        self._order()

    def read(self, timeout_s: float) -> AudioBlock | None:  # noqa: ARG002 - waits only for the maker
        """The next block; None after the last."""
        if self.given >= self._end:
            return None
        samples = self._from_file()
        if not len(samples):
            self._begin_next()
            samples = self._from_file()
        block = AudioBlock(self.given, RATE, samples)
        self.given += len(samples)
        return block

    def close(self) -> None:
        """End the process that makes the sound, and take its files away."""
        if self._file is not None:
            self._file.close()
            self._file = None
        self._running.close()

    def _from_file(self) -> NDArray[np.float32]:
        """What comes next of the rehearsal that is played, nothing at its end."""
        data = b"" if self._file is None else self._file.read(self._block * np.dtype(np.float32).itemsize)
        return np.frombuffer(data, np.float32)

    def _begin_next(self) -> None:
        assert self._coming is not None
        path, notes = self._coming
        self.played += notes.result()
        self._look(self.given / RATE)
        if self._file is not None:
            self._file.close()
        self._file = path.open("rb")
        # Open, it can be read to its end, and nobody else needs it.
        path.unlink()
        self._order()

    def _order(self) -> None:
        """Let the next rehearsal be made."""
        assert self._maker is not None
        self._seed += 1
        path = self._folder / f"{self._seed}.f32"
        self._coming = path, self._maker.submit(write_rehearsal, self._seed, path)
