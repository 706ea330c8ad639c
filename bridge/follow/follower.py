"""The one protocol behind which all followers stand: blocks in, frames out."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, PitchFrame

Array = NDArray[np.float64]

#: Samples beyond this are a fault of the source, not sound; they are limited so that one cannot deafen what follows.
_LOUDEST = 4.0


class Follower(Protocol):
    """Turns the stream into pitch frames."""

    def follow(self, block: AudioBlock) -> list[PitchFrame]:
        """Take a block of any length (0 too) and return the frames that it completes, in order of time."""
        ...


class Hops:
    """Cuts blocks of any length into hops of ``hop`` samples and counts the stream."""

    def __init__(self, hop: int) -> None:
        self._hop = hop
        self._rest: Array = np.zeros(0)
        self._next = 0

    def cut(self, block: AudioBlock) -> tuple[Array, int]:
        """Whole hops of shape (count, hop), and the stream index of their first sample.

        What is not finite becomes silence. When the block does not join on (samples were lost), the rest kept from
        before is given up, so that the sample count stays true.
        """
        samples = block.samples.astype(np.float64)
        if not samples @ samples <= _LOUDEST**2:  # too loud, not finite, or just a long block
            samples = np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)
            np.clip(samples, -_LOUDEST, _LOUDEST, out=samples)
        if block.start != self._next:
            self._rest = np.zeros(0)
        first = block.start - len(self._rest)
        self._next = block.start + len(samples)
        whole = np.concatenate([self._rest, samples])
        count = len(whole) // self._hop
        self._rest = whole[count * self._hop :]
        return whole[: count * self._hop].reshape(count, self._hop), first
