"""How surely a reed sounds rather than a voice or a noise, from the spectrum of its newest periods.

A free reed cuts the air off sharply, so its partials reach evenly up to 8 kHz and the gaps between them are empty. A
voice falls off faster, above its fourth formant most of all, and its pitch moves and its throat hisses, which fills the
gaps; a clap or a clink has no partials to speak of. None of these marks is sure by itself, so they are weighed together
in a logistic regression. Its weights were fitted to sampled and synthetic reeds (clean, driven, in noise, hum and a
room) against recorded speech of five languages as it is and with an upper band restored, singing, claps and clicks.

A dull microphone, hands cupped around it and a narrow recording take the upper bands from a reed too. So they count
only while something has been heard in them lately, be it a reed, a throat or a clap; otherwise the lower bands alone
are weighed, against speech and against song. The latter weights were fitted to reeds through seven low-passes (driven,
in noise and a room too) against the recorded speech and synthesised singing of a man and a woman.
"""

from __future__ import annotations

import math
from itertools import pairwise
from operator import mul
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_PERIODS = 4
#: Points that a look is interpolated to, and fewer for pitches whose partials up to 8.5 kHz those show as well, Hz.
_POINTS, _FEWER_POINTS, _FEWER_HZ = 512, 256, 400.0


class _Judge(NamedTuple):
    """What is looked at, and how it is weighed.

    Partials are weighed from band to band, against all partials together, and what lies half way between them against
    those of the same band; edges in Hz. The weights are those of the bands and of the gaps in tens of dB, of the
    unlikeness of two periods in tens of dB, of the octaves above 400 Hz, and a constant.
    """

    bands_hz: tuple[float, ...]
    gaps_hz: tuple[float, ...]
    weights: tuple[float, ...]

    def log_odds(self, partials: list[float], gaps: list[float], hz: float, likeness: float) -> float:
        """Logarithm of the odds that this is a reed, from sums of the power of partials and of gaps up to each."""
        marks = [_db(part, partials[-1], _BANDS_DB) for part in _in_bands(partials, hz, self.bands_hz)]
        tones, hisses = _in_bands(partials, hz, self.gaps_hz), _in_bands(gaps, hz, self.gaps_hz)
        marks += [
            _UNKNOWN_DB / 10.0 if tone is None or hiss is None else _db(hiss, tone, _GAPS_DB)
            for tone, hiss in zip(tones, hisses, strict=True)
        ]
        marks.append(_db(1.0 - likeness + 1e-5, 1.0, _UNLIKE_DB))
        marks.append(min(max(math.log2(hz / _MIDDLE_HZ), _OCTAVES[0]), _OCTAVES[1]))
        marks.append(1.0)
        return float(sum(map(mul, self.weights, marks)))


_WIDE = (
    _Judge(
        (1200.0, 2400.0, 3700.0, 6000.0, 8500.0),
        (0.0, 1200.0, 3700.0, 8500.0),
        (1.18, -0.82, 1.47, 2.18, -1.7, -0.71, 1.35, -1.33, 0.27, 5.97),
    ),
)
#: The same where nothing is heard above 5 kHz: a reed is like neither speech nor song. A dull reed falls evenly from
#: partial to partial; a sung vowel is weak between its second formant and its first or third, and its third and fourth
#: stand out above 2.4 kHz. The first was fitted to tell a reed from speech, the second from song; a half is added to
#: both constants, since both must agree.
_NARROW = (
    _Judge(
        (1200.0, 2400.0, 3700.0),
        (0.0, 1200.0, 3700.0),
        (1.87, 0.58, -1.04, 0.52, -1.15, 0.95, 0.23),
    ),
    _Judge(
        (0.0, 600.0, 1200.0, 1800.0, 2400.0, 3000.0, 3700.0),
        (0.0, 1200.0, 3700.0),
        (2.39, 0.66, 1.65, 1.27, -0.61, -0.87, -1.17, -0.3, -0.25, 2.83, -0.87),
    ),
)
#: So much of the power lies above 5 kHz where anything is heard there, and over so many seconds of sound the mean is
#: taken: notes of an open harp have 10 to 30 dB less there than in all, claps 10 to 27, and a harp through a low-pass
#: at 1.5 kHz mostly 35 to 50 (measured).
_UPPER_SHARE, _LATELY_S = 10.0 ** (-32.0 / 10.0), 2.0
_BANDS_DB, _GAPS_DB, _UNLIKE_DB, _OCTAVES = (-50.0, 0.0), (-40.0, 5.0), (-35.0, 0.0), (-1.5, 2.0)
#: A band without any partial says nothing; dB.
_UNKNOWN_DB = -15.0
_MIDDLE_HZ = 400.0
_TINY = 1e-30
#: The spectrum is looked at each so many hops; oftener in a sound's first ones, and in twice as many periods as a look
#: takes: until then it still changes with each period that comes. A hop takes as long at any rate.
_EVERY, _EVERY_FIRST, _FIRST_HOPS, _FIRST_PERIODS = 8, 2, 12, 2.0 * _PERIODS
_HOPS_A_SECOND = 750.0


class _Points:
    """Where a look reads its periods, as parts of it, and the window over them."""

    def __init__(self, count: int) -> None:
        self.steps = np.arange(count) / count
        self.shape = np.hanning(count + 1)[:-1]


class Reedlike:
    """Evidence for a reed in samples of ``rate`` Hz, one number a hop; keeps the last look in between.

    ``floor_hz`` is the lowest pitch; ``dull`` is whether a sound without upper bands may be a reed.
    """

    def __init__(self, rate: int, floor_hz: float, *, dull: bool = True) -> None:
        self._rate = rate
        self._dull = dull
        #: Samples before the end that a look may need.
        self.keep = math.ceil(_PERIODS * 1.02 * rate / floor_hz) + 2
        self._full, self._fewer = _Points(_POINTS), _Points(_FEWER_POINTS)
        self._hops = 0
        self._heard = 0
        self._power = self._upper = 0.0
        self._reed = 0.0

    def hear(self, power: float, upper: float) -> None:
        """The power of a hop in which something sounds, and how much of it lies above 5 kHz, in any unit."""
        self._heard += 1
        share = max(1.0 / self._heard, 1.0 / (_LATELY_S * _HOPS_A_SECOND))
        self._power += share * (power - self._power)
        self._upper += share * (upper - self._upper)

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
            is_dull = self._dull and self._upper <= _UPPER_SHARE * self._power
            spectrum = self._spectrum(samples, end, hz)
            judges = _NARROW if is_dull else _WIDE
            odds = math.exp(min(judge.log_odds(*spectrum, hz, likeness) for judge in judges))
            self._reed = odds / (1.0 + odds)
        self._hops += 1
        return self._reed

    def _spectrum(self, samples: Array, end: int, hz: float) -> tuple[list[float], list[float]]:
        """Sums of the power of the partials up to each, and of that half way from each to the next, from 0 on."""
        length = _PERIODS * self._rate / hz
        newest = samples[max(0, end - math.ceil(length) - 1) : end]
        points = self._fewer if hz > _FEWER_HZ else self._full
        places = length * points.steps
        places += len(newest) - 1 - length
        # Over whole periods, so that each partial falls on a bin of its own, where the window has no other partial.
        bins = np.fft.rfft(np.interp(places, np.arange(len(newest)), newest) * points.shape)
        power = bins.real**2 + bins.imag**2
        both = np.add.accumulate(power[_PERIODS:-1].reshape(-1, _PERIODS)[:, :: _PERIODS // 2]).T.tolist()
        return [0.0, *both[0]], [0.0, *both[1]]


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
