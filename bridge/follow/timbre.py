"""What the spectrum says besides the pitch: how clean and how bright."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray


def brightness(samples: NDArray[np.float64], rate: int, hz: float) -> float:
    """How open the sound is, 0..1 over three octaves from the fundamental ``hz``, whatever the level.

    From the root-mean-square frequency of ``samples`` (n,), ``rms(dx/dt) / rms(x) / 2 pi``: a pure tone has 0, a mean
    eight times the fundamental 1.
    """
    power = float(samples @ samples)
    if power <= 0.0:
        return 0.0
    slope = samples[1:] - samples[:-1]
    # A difference of neighbours is 2 sin(w / 2), so the mean frequency follows from the inverse.
    half_sine = min(1.0, math.sqrt(float(slope @ slope) / power) / 2.0)
    mean_hz = 2.0 * math.asin(half_sine) * rate / (2.0 * math.pi)
    return min(1.0, max(0.0, math.log2(max(mean_hz, 1.0) / hz) / 3.0))


def cleanness(likeness: float) -> float:
    """How surely one reed sounds, 0..1: two reeds at once do not repeat within a few periods of either."""
    return min(1.0, max(0.0, (likeness - 0.5) / 0.45))
