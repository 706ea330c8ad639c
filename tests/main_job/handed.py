"""What of a stream had been handed to the engine and the take, and when: known even after all of them were killed.

The moments are those of the process that plays, on the machine's monotonic clock, which all processes share
(clock_gettime(2), CLOCK_MONOTONIC). So what a busy machine keeps waiting is not taken for what had been played.
"""

from __future__ import annotations

import mmap
import time

import numpy as np

from bridge.base.clock import SystemClock
from bridge.base.events import AudioBlock
from bridge.capture.paced import Paced
from bridge.capture.source import Source

#: Blocks that can be noted: at 128 samples and 48 kHz 87 s of sound.
_MOST = 32768


class Handed:
    """A list of moments and samples in memory that is shared with the processes forked after it was made."""

    def __init__(self) -> None:
        memory = mmap.mmap(-1, 8 + 16 * _MOST)
        self._count = np.frombuffer(memory, np.int64, 1)
        self._at_s = np.frombuffer(memory, np.float64, _MOST, offset=8)
        self._samples = np.frombuffer(memory, np.int64, _MOST, offset=8 + 8 * _MOST)

    def note(self, samples: int) -> None:
        """So many samples of the stream have been handed over by now."""
        row = int(self._count[0])
        self._at_s[row], self._samples[row] = time.monotonic(), samples
        self._count[0] = row + 1

    def until(self, at_s: float) -> int:
        """How many samples had been handed over at a moment."""
        noted = int(self._count[0])
        before = int(np.searchsorted(self._at_s[:noted], at_s, side="right"))
        return int(self._samples[before - 1]) if before else 0


class Watched(Paced):
    """A source at the speed it sounds that notes in ``handed`` how much of it the engine has dealt with."""

    def __init__(self, source: Source, handed: Handed) -> None:
        super().__init__(source, SystemClock())
        self._handed = handed
        self._given = 0

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give the next block; who asks for it has answered the one before and passed it on to the take."""
        self._handed.note(self._given)
        block = super().read(timeout_s)
        if block is not None:
            self._given = block.start + len(block.samples)
        return block
