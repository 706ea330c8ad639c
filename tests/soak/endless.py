"""A rehearsal without end: the same passages again and again, never twice the same breath, noise, level and tuning."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing import get_context

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


class Endless(Source):
    """Rehearsals one after another until ``seconds`` have been given, in ``block`` samples.

    Each is made by another process while the one before it is played, so that this one holds nothing but the engine.
    ``given`` counts the samples so far, ``played`` the notes of the rehearsals begun; ``look(seconds)`` is called
    before each of them.
    """

    name = "endless"
    rate = RATE

    def __init__(self, seconds: float, look: Callable[[float], None], block: int = 1024) -> None:
        self._end = round(seconds * RATE)
        self._look = look
        self._block = block
        self._samples: NDArray[np.float32] = np.zeros(0, np.float32)
        self._next = 0
        self._seed = 0
        self._maker: ProcessPoolExecutor | None = None
        self._coming: Future[tuple[NDArray[np.float32], int]] | None = None
        self.given = 0
        self.played = 0

    def open(self) -> None:
        """Start the process that makes the sound."""
        self._maker = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
        self._order()

    def read(self, timeout_s: float) -> AudioBlock | None:  # noqa: ARG002 - waits only for the maker
        """The next block; None after the last."""
        if self.given >= self._end:
            return None
        if self._next >= len(self._samples):
            assert self._coming is not None
            # Whenever it looks, exactly one rehearsal is held: the next.
            self._samples, notes = self._coming.result()
            self._coming = None
            self._look(self.given / RATE)
            self._next = 0
            self.played += notes
            self._order()
        samples = self._samples[self._next : self._next + self._block]
        block = AudioBlock(self.given, RATE, samples)
        self._next += len(samples)
        self.given += len(samples)
        return block

    def close(self) -> None:
        """End the process that makes the sound."""
        if self._maker is not None:
            self._maker.shutdown(cancel_futures=True)
            self._maker = None

    def _order(self) -> None:
        """Let the next rehearsal be made."""
        assert self._maker is not None
        self._seed += 1
        self._coming = self._maker.submit(rehearsal, self._seed)
