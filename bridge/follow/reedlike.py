"""How surely a reed sounds rather than a voice or a noise, from the spectrum of its newest periods.

A free reed cuts the air off sharply, so its partials reach evenly up to 8 kHz and the gaps between them are empty. A
voice falls off faster, above its fourth formant most of all, and its pitch moves and its throat hisses, which fills the
gaps; a clap or a clink has no partials to speak of. None of these marks is sure by itself, so they are weighed together
in a logistic regression. Its weights were fitted to sampled and synthetic reeds (clean, driven, in noise, hum and a
room) against recorded speech of five languages as it is and with an upper band restored, singing, claps and clicks.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_PERIODS = 4
_POINTS = 512
#: Partials are weighed from band to band, against all partials together; Hz.
_BANDS_HZ = (1200.0, 2400.0, 3700.0, 6000.0, 8500.0)
#: What lies half way between the partials is weighed against them in these bands, Hz.
_GAPS_HZ = (0.0, 1200.0, 3700.0, 8500.0)
#: Weights of the bands and of the gaps in tens of dB, of the unlikeness of two periods in tens of dB, of the octaves
#: above 400 Hz, and a constant.
_WEIGHTS = np.array([1.18, -0.82, 1.47, 2.18, -1.7, -0.71, 1.35, -1.33, 0.27, 5.97])
#: The same for a stream of so few samples a second that it ends below the upper bands.
_NARROW_WEIGHTS = np.array([1.87, 0.58, 0.0, 0.0, -1.04, 0.52, 0.0, -1.15, 0.95, -0.27])
_NARROW_RATE = 12000
_BANDS_DB, _GAPS_DB, _UNLIKE_DB, _OCTAVES = (-50.0, 0.0), (-40.0, 5.0), (-35.0, 0.0), (-1.5, 2.0)
#: A band without any partial says nothing; dB.
_UNKNOWN_DB = -15.0
_MIDDLE_HZ = 400.0
_TINY = 1e-30
#: The spectrum is looked at each so many hops; oftener in a sound's first ones, and in twice as many periods as a look
#: takes: until then it still changes with each period that comes. A hop takes as long at any rate.
_EVERY, _EVERY_FIRST, _FIRST_HOPS, _FIRST_PERIODS = 8, 2, 12, 2.0 * _PERIODS
_HOPS_A_SECOND = 750.0


class Reedlike:
    """Evidence for a reed in samples of ``rate`` Hz, one number a hop; keeps the last look in between.

    ``stream_rate`` is the rate at which the sound came in, before it was interpolated; ``floor_hz`` the lowest pitch.
    """

    def __init__(self, rate: int, stream_rate: int, floor_hz: float) -> None:
        self._rate = rate
        self._weights = _NARROW_WEIGHTS if stream_rate < _NARROW_RATE else _WEIGHTS
        #: Samples before the end that a look may need.
        self.keep = math.ceil(_PERIODS * 1.02 * rate / floor_hz) + 2
        self._shape = np.hanning(_POINTS + 1)[:-1]
        self._steps = np.arange(_POINTS) / _POINTS
        self._hops = 0
        self._reed = 0.0

    def reset(self) -> None:
        """The sound has ended; the next one is looked at afresh."""
        self._hops = 0

    def step(self, samples: Array, end: int, hz: float, likeness: float) -> float:
        """How surely the sound of pitch ``hz`` that ends at ``samples[end]`` is a reed, 0..1.

        ``likeness`` is that of its periods, 0..1; the ``keep`` samples before ``end`` must be at hand.
        """
        first_hops = max(_FIRST_HOPS, _FIRST_PERIODS * _HOPS_A_SECOND / hz)
        every = _EVERY_FIRST if self._hops < first_hops else _EVERY
        if self._hops % every == 0:
            odds = math.exp(float(self._weights @ self._marks(samples, end, hz, likeness)))
            self._reed = odds / (1.0 + odds)
        self._hops += 1
        return self._reed

    def _marks(self, samples: Array, end: int, hz: float, likeness: float) -> list[float]:
        """What the weights weigh; together the logarithm of the odds that this is a reed."""
        length = _PERIODS * self._rate / hz
        newest = samples[max(0, end - math.ceil(length) - 1) : end]
        places = (len(newest) - 1 - length) + length * self._steps
        # Over whole periods, so that each partial falls on a bin of its own, where the window has no other partial.
        bins = np.fft.rfft(np.interp(places, np.arange(len(newest)), newest) * self._shape)
        power = bins.real**2 + bins.imag**2
        partials = _below(power[_PERIODS::_PERIODS])
        gaps = _below(power[_PERIODS + 2 :: _PERIODS])
        marks = [_db(part, partials[-1], _BANDS_DB) for part in _in_bands(partials, hz, _BANDS_HZ)]
        tones, hisses = _in_bands(partials, hz, _GAPS_HZ), _in_bands(gaps, hz, _GAPS_HZ)
        marks += [
            _UNKNOWN_DB / 10.0 if tone is None or hiss is None else _db(hiss, tone, _GAPS_DB)
            for tone, hiss in zip(tones, hisses, strict=True)
        ]
        marks.append(_db(1.0 - likeness + 1e-5, 1.0, _UNLIKE_DB))
        marks.append(min(max(math.log2(hz / _MIDDLE_HZ), _OCTAVES[0]), _OCTAVES[1]))
        marks.append(1.0)
        return marks


def _below(power: Array) -> list[float]:
    """Sums of the first 0, 1, 2, ... of ``power``."""
    return [0.0, *np.cumsum(power).tolist()]


def _in_bands(sums: list[float], hz: float, edges: tuple[float, ...]) -> list[float | None]:
    """Power from edge to edge, None where no partial lies."""
    places = [min(len(sums) - 1, max(0, math.ceil(edge / hz) - 1)) for edge in edges]
    return [sums[high] - sums[low] if high > low else None for low, high in pairwise(places)]


def _db(power: float | None, whole: float, between: tuple[float, float]) -> float:
    """Their ratio in tens of dB, within bounds."""
    if power is None:
        return _UNKNOWN_DB / 10.0
    ratio = max(power, _TINY) / (whole + _TINY)
    return min(max(10.0 * math.log10(ratio), between[0]), between[1]) / 10.0
