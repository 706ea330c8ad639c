"""How loud a stream is, from the running sum of its squares: short for gate and strokes, longer for the breath."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import power_to_db

Array = NDArray[np.float64]

#: The short level's window while no period is known, in seconds.
_PLAIN_S = 0.005
#: The least of whole periods that the short level is taken over, in seconds: one alone is too restless in the treble.
_LEAST_S = 128 / 48000
#: The level that breath is made of is averaged this long, in seconds: longer than a low reed's period.
_BREATH_S = 0.01


class Level:
    """Levels in dBFS at ``rate`` Hz; ``energy[i]`` is the sum of all squares up to and without sample ``i``."""

    def __init__(self, rate: int) -> None:
        self._plain = round(_PLAIN_S * rate)
        self._least = _LEAST_S * rate
        self.breath_window = round(_BREATH_S * rate)

    def window(self, period: float) -> int:
        """Samples of the short level: whole periods where ``period`` (samples) is known, so that it does not ripple."""
        if period <= 0.0:
            return self._plain
        return round(period * max(1, math.ceil(self._least / period)))

    def short_db(self, energy: Array, end: int, window: int) -> float:
        """The level of the ``window`` newest samples before ``end``, for gate and strokes."""
        return _mean_db(energy, end, window)

    def breath_db(self, energy: Array, end: int) -> float:
        """The level of the 10 ms before ``end``."""
        return _mean_db(energy, end, self.breath_window)


class LevelHistory:
    """The newest samples and their running sum, for a follower that keeps none; reaches back ``keep`` samples."""

    def __init__(self, keep: int) -> None:
        self.samples: Array = np.zeros(keep)
        self.energy: Array = np.zeros(keep + 1)
        #: The place of the end in both.
        self.end = keep

    def push(self, samples: Array) -> None:
        """Take the newest samples (n,)."""
        self.samples = np.concatenate([self.samples, samples])[-self.end :]
        # Counted from the oldest sample kept, so that the sum never outgrows its precision.
        np.cumsum(self.samples * self.samples, out=self.energy[1:])


def _mean_db(energy: Array, end: int, window: int) -> float:
    return power_to_db(float(energy[end] - energy[end - window]) / window)
