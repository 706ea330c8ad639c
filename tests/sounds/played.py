"""Samples as a source of sound that is read as fast as it goes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock
from bridge.capture.source import Source

_BLOCK = 128


class Played(Source):
    """``samples``, float32 of shape (n,), in blocks as of a sound card."""

    name = "samples"

    def __init__(self, samples: NDArray[np.float32], rate: int) -> None:
        self.rate = rate
        self._samples = samples
        self._next = 0

    def open(self) -> None:
        """Nothing to open."""

    def read(self, _timeout_s: float) -> AudioBlock | None:
        """The next samples."""
        block = AudioBlock(self._next, self.rate, self._samples[self._next : self._next + _BLOCK])
        self._next += _BLOCK
        return block if len(block.samples) else None

    def close(self) -> None:
        """Nothing to close."""


def at_changing_speed(samples: NDArray[np.float32], rate: int, start: float, per_s: float) -> NDArray[np.float32]:
    """The samples as a tape plays them that is ``start`` cents sharp and goes sharper by ``per_s`` cents a second."""
    cents = start + per_s * np.arange(len(samples)) / rate
    places = np.concatenate(([0.0], np.cumsum(2.0 ** (cents / 1200.0))))
    places = places[places <= len(samples) - 1]
    return np.asarray(np.interp(places, np.arange(len(samples)), samples), np.float32)
