"""What the levels of a recording say: its pauses, its playing, and whether it was recorded too loud.

The rules are our own (common practice, no source); each stands beside its number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock
from bridge.base.units import SILENCE_DB, power_to_db
from bridge.follow.room_noise import LearnedRoom, MomentLevels

#: Of all moments the softest and the loudest tenth stand for the pauses and the playing.
_PAUSES, _PLAYING = 10.0, 90.0
#: A recording with pauses has playing this far above them, dB.
PAUSES_BELOW_DB = 15.0
#: Noise reaches this far above its softest moments, dB.
_NOISE_RISES_DB = 6.0
#: So near full scale, for so many samples in a row, is overloaded.
_CLIPPED_AT, _CLIPPED_SAMPLES = 0.985, 3


@dataclass(frozen=True, slots=True)
class RecordedLevels:
    """Levels in dBFS, after the follower's own high-pass and low-pass except ``peak_db``; ``clipped`` counts places."""

    seconds: float
    pauses_db: float
    playing_db: float
    peak_db: float
    clipped: int

    @property
    def has_pauses(self) -> bool:
        """Whether anything in it is surely a pause, from which the noise is known."""
        return self.playing_db - self.pauses_db >= PAUSES_BELOW_DB

    def room(self) -> LearnedRoom:
        """The room as its pauses tell it; only of use when it has any."""
        return LearnedRoom(self.seconds, self.pauses_db, self.pauses_db + _NOISE_RISES_DB, 0.0, 0.0)


class RecordingMeter:
    """Reads a recording block by block; ``floor_hz`` is the follower's."""

    def __init__(self, rate: int, floor_hz: float) -> None:
        self._rate = rate
        self._levels = MomentLevels(rate, floor_hz)
        self._samples = 0
        self._peak = 0.0
        self._clipped = 0

    def hear(self, block: AudioBlock) -> None:
        """Take the next block."""
        if not len(block.samples):
            return
        self._samples += len(block.samples)
        size = np.abs(block.samples)
        self._peak = max(self._peak, float(size.max()))
        self._clipped += _runs(size >= _CLIPPED_AT)
        self._levels.hear(block)

    def moments(self) -> tuple[NDArray[np.float64], float]:
        """The level of every moment so far, dBFS, shape (n,), and how long one lasts, in seconds."""
        return self._levels.levels_db(), self._levels.moment_s

    def levels(self) -> RecordedLevels:
        """What was heard so far; of nothing all levels are -120."""
        moments = self._levels.levels_db()
        pauses, playing = np.percentile(moments, (_PAUSES, _PLAYING)) if len(moments) else (SILENCE_DB, SILENCE_DB)
        seconds = self._samples / self._rate
        return RecordedLevels(seconds, float(pauses), float(playing), power_to_db(self._peak**2), self._clipped)


def _runs(at_limit: NDArray[np.bool_]) -> int:
    """How many runs of at least ``_CLIPPED_SAMPLES`` there are."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], at_limit, [False]]).astype(np.int8)))
    return int(np.count_nonzero(edges[1::2] - edges[::2] >= _CLIPPED_SAMPLES))
