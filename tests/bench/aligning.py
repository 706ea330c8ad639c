"""Truth at the instant a frame describes, and the lag of an estimator, from the parts of a sound that move.

A steady tone says nothing about delay. Where the pitch moves, the curve an estimator gives (each value at the time it
was ready, which is when a player feels it) is the true curve some time later: the lag is the shift in time that brings
the two closest in cents (least mean square, each difference counted as 50 cents at most, so that gross errors do not
pull it), found to 0.1 ms.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bench.heard import Heard
from sounds.known import TRUTH_STEP_S, Floats, KnownSound

Mask = NDArray[np.bool_]
#: The ranges of pitch in which lag is given, Hz: from, below. The lowest pitch scored is told with the table.
BANDS: dict[str, tuple[float, float]] = {
    "<390": (0.0, 390.0),
    "390-1000": (390.0, 1000.0),
    ">1000": (1000.0, 1e5),
}
GROSS_CENTS = 50.0
#: A pitch moves when it is faster than this and slower than a jump to another hole, cents a second.
_SLOWEST, _FASTEST = 250.0, 15000.0
#: Beginnings and ends of notes are left out of the lag, seconds: windows are not full there.
_AFTER_ATTACK_S, _BEFORE_END_S = 0.03, 0.01
_LEAST_FRAMES = 60
#: Where less than this moves, seconds, nobody could tell a lag.
_LEAST_MOVING_S = 0.1
#: A curve this far from the truth at any lag (RMS, in cents) holds too many gross errors for a lag to mean anything.
_LOST_CENTS = 0.6 * GROSS_CENTS
_SEARCH_S = (-0.010, 0.060)


@dataclass(frozen=True, eq=False)
class TruthAt:
    """The truth at some instants: pitch in cents above 1 Hz, voiced, silent; neither where it is not scored."""

    cents: Floats
    voiced: Mask
    silent: Mask


def cents_above_1_hz(hz: Floats) -> Floats:
    """Cents above 1 Hz; 0 for 0 Hz."""
    return np.where(hz > 0.0, 1200.0 * np.log2(np.maximum(hz, 1.0)), 0.0)


@lru_cache(maxsize=4)
def truth_cents(sound: KnownSound) -> Floats:
    """The whole truth in cents above 1 Hz, worked out once."""
    return cents_above_1_hz(sound.hz)


def truth_at(sound: KnownSound, times_s: Floats) -> TruthAt:
    """The truth at ``times_s``, any order: between two points of it, unless the pitch jumps there."""
    last = len(sound.times_s) - 1
    before = np.clip(np.searchsorted(sound.times_s, times_s, side="right") - 1, 0, last)
    after = np.minimum(before + 1, last)
    cents = truth_cents(sound)
    start, step = cents[before], cents[after] - cents[before]
    span = np.maximum(sound.times_s[after] - sound.times_s[before], 1e-9)
    along = np.clip((times_s - sound.times_s[before]) / span, 0.0, 1.0)
    glides = (sound.hz[before] > 0.0) & (sound.hz[after] > 0.0) & (np.abs(step) < GROSS_CENTS)
    known = sound.scored[before] & (times_s >= sound.times_s[0]) & (times_s <= sound.times_s[-1])
    voiced = known & (sound.hz[before] > 0.0)
    return TruthAt(start + np.where(glides, step * along, 0.0), voiced, known & (sound.hz[before] == 0.0))


def moving(sound: KnownSound) -> Mask:
    """Which points of the truth lie on a glide or a vibrato."""
    usable = (sound.hz > 0.0) & sound.scored
    inside = np.zeros(len(usable), dtype=bool)
    for note in sound.notes:
        first, last = np.searchsorted(sound.times_s, [note.attack_s + _AFTER_ATTACK_S, note.end_s - _BEFORE_END_S])
        inside[first:last] = True
    cents = truth_cents(sound)
    speed = np.zeros(len(cents))
    speed[1:-1] = np.abs(cents[2:] - cents[:-2]) / (sound.times_s[2:] - sound.times_s[:-2])
    return usable & inside & (speed > _SLOWEST) & (speed < _FASTEST)


def lag_s(sound: KnownSound, heard: Heard, band: str) -> float:
    """Lag in seconds over what moves in a band.

    NaN when too little moves there to tell; infinite when enough moves and too much is wrong or left out.
    """
    low, high = BANDS[band]
    wanted = moving(sound) & (sound.hz >= low) & (sound.hz < high)
    if np.count_nonzero(wanted) * TRUTH_STEP_S < _LEAST_MOVING_S:
        return float("nan")
    # Only frames near a moving point are looked at: the others cost time and say nothing.
    near = sound.times_s[wanted]
    at = np.searchsorted(near, heard.ready_s + 0.02)
    close = np.abs(near[np.clip(at, 0, len(near) - 1)] - heard.ready_s) < 0.1
    close |= np.abs(near[np.clip(at - 1, 0, len(near) - 1)] - heard.ready_s) < 0.1
    used = close & (heard.hz > 0.0)
    ready, cents = heard.ready_s[used], cents_above_1_hz(heard.hz[used])

    def cost(lag: float) -> float:
        then = truth_at(sound, ready - lag)
        index = np.clip(np.searchsorted(sound.times_s, ready - lag, side="right") - 1, 0, len(wanted) - 1)
        chosen = wanted[index] & then.voiced
        if np.count_nonzero(chosen) < _LEAST_FRAMES:
            return float("inf")
        return float(np.sqrt(np.mean(np.minimum(np.abs(cents[chosen] - then.cents[chosen]), GROSS_CENTS) ** 2)))

    coarse = np.arange(*_SEARCH_S, 0.001)
    costs = [cost(lag) for lag in coarse]
    place = int(np.argmin(costs))
    if costs[place] > _LOST_CENTS or place in (0, len(coarse) - 1):
        return float("inf")
    best = coarse[place]
    fine = np.arange(best - 0.001, best + 0.00105, 0.0001)
    return float(fine[int(np.argmin([cost(lag) for lag in fine]))])


def lags_s(sound: KnownSound, heard: Heard) -> dict[str, float]:
    """Lag of every band in seconds, NaN or infinite as in :func:`lag_s`."""
    return {band: lag_s(sound, heard, band) for band in BANDS}
