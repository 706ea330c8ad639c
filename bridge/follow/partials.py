"""Which partials a sound has that its own reed cannot have.

The newest tens of milliseconds are laid out along the phase of the reed: so many points a period, whole periods only,
evenly spaced in phase rather than in time. However the reed glides or swings, each of its partials then is one line
of the spectrum, with a Hann window two bins wide to either side, and whatever stands between the lines is not its own.
A second reed does stand there; a driven amplifier only makes more lines in the same places, and noise spreads thin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Partials up to here are looked at, Hz.
_BAND_HZ = 6000.0
#: A line is its bin and one more to either side, and so much of its frequency more: echoes of a vibrato.
_LINE_BINS = 1.0
_LINE_PART = 0.035
#: Nothing is looked for below this part of the reed's pitch: rumble and noise are strongest there.
_LOWEST_PART = 0.3
#: A common period is looked at in so many partials of it.
_PARTIALS = 12
#: The strongest partial of a reed is none above this; pitches are compared by so many partials, and by this factor.
_STRONGEST_PART = 8
_FIRST_PARTIALS = np.arange(1, 6)
_CLEARLY = 1.15
#: Of fewer periods hardly anything lies between the lines.
_LEAST_PERIODS = 6
_TINY = 1e-12


@dataclass(frozen=True, slots=True)
class Lines:
    """The spectrum along the phase of the reed at ``hz``.

    ``power`` (n,) has ``per_hz`` bins a Hz, ``periods`` of them from partial to partial; ``foreign`` (n,) is the power
    between the lines of the reed. All power is given as parts of the whole.
    """

    hz: float
    periods: int
    per_hz: float
    power: Array
    foreign: Array

    def partials(self) -> list[float]:
        """Power of the reed's first partials, from the first."""
        count = min(_PARTIALS, (len(self.power) - 2) // self.periods)
        places = self.periods * np.arange(1, count + 1)
        power = self.power
        return np.asarray(power[places - 1] + power[places] + power[places + 1]).tolist()  # type: ignore[no-any-return]

    def strongest_hz(self, power: Array) -> float:
        """Frequency of the strongest peak of ``power`` (n,), which is one of those above or a part of it; 0 of none."""
        place = int(power.argmax())
        if not 1 <= place < len(power) - 1:
            return 0.0
        left, middle, right = np.sqrt(power[place - 1 : place + 2]).tolist()
        # A line under a Hann window lies where the two largest of its amplitudes put it.
        side, other = (1.0, right) if right > left else (-1.0, left)
        shift = max(0.0, (2.0 * other - middle) / (middle + other + _TINY))
        return float((place + side * shift) / self.per_hz)

    def reed_hz(self, power: Array, floor_hz: float) -> float:
        """The pitch from ``floor_hz`` up of the reed to which the strongest peak of ``power`` belongs; 0 of none.

        Of the pitches of which the peak can be a partial it is the one whose first partials have most amplitude.
        """
        hz = self.strongest_hz(power)
        amplitude = np.sqrt(np.convolve(power, np.ones(3), "same"))
        best, most = hz, 0.0
        for part in range(1, _STRONGEST_PART + 1):
            if hz < part * floor_hz:
                break
            places = np.rint(hz / part * self.per_hz * _FIRST_PARTIALS).astype(np.intp)
            sum_of_first = float(amplitude[places[places < len(power)]].sum())
            if sum_of_first > _CLEARLY * most:
                best, most = hz / part, sum_of_first
        return best

    def peaks_db(self, power: Array, peaks: int = 3) -> float:
        """Level of the ``peaks`` strongest peaks of ``power`` together, beside the whole sound."""
        left = power.copy()
        total = _TINY
        for _ in range(peaks):
            place = int(left.argmax())
            near = left[max(0, place - 1) : place + 2]
            total += float(near.sum())
            near[:] = 0.0
        return 10.0 * math.log10(total)

    def at(self, hz: float) -> float:
        """Power of what lies at ``hz``, a bin either way; 0 outside the band."""
        place = round(hz * self.per_hz)
        return float(self.power[place - 1 : place + 2].sum()) if 1 <= place < len(self.power) - 1 else 0.0

    def without(self, power: Array, hz: float) -> Array:
        """``power`` with the lines of another reed at ``hz`` taken out."""
        return np.where(_beside(len(power), hz * self.per_hz, 2.0, 0.02), power, 0.0)


def lines(samples: Array, track_hz: Array, late: int, rate: int) -> Lines | None:
    """The spectrum of ``samples`` (n,) along the phase of a reed; None when there are too few whole periods.

    ``track_hz`` (m,) is its pitch in equal hops that end with the samples, known ``late`` hops late.
    """
    if late:
        track_hz = np.concatenate([track_hz[late:], np.full(late, track_hz[-1])])
    hop = len(samples) / len(track_hz)
    hz = float(track_hz.mean())
    phase = np.zeros(len(track_hz) + 1)
    np.cumsum(track_hz * (hop / rate), out=phase[1:])
    places = hop * np.arange(len(phase))
    first, last = np.interp([1.0, len(samples) - 3.0], places, phase).tolist()
    periods = int(last - first)
    if periods < _LEAST_PERIODS:
        return None
    points = max(4, math.ceil(2.0 * _BAND_HZ / hz))
    count = periods * points
    laid_out = _between(samples, np.interp(last - periods + np.arange(count) / points, phase, places))
    spectrum = np.fft.rfft(laid_out * _hann(count))
    power = spectrum.real**2 + spectrum.imag**2
    lowest = max(2, int(_LOWEST_PART * periods))
    power[:lowest] = 0.0
    power /= power.sum() + _TINY
    foreign = power * _between_lines(len(power), periods)
    return Lines(hz, periods, periods / hz, power, foreign)


@lru_cache(maxsize=256)
def _between_lines(count: int, periods: int) -> NDArray[np.bool_]:
    """Which of ``count`` bins belong to no line of the reed itself; read only."""
    return _beside(count, float(periods), _LINE_BINS, _LINE_PART)


def _beside(count: int, spacing: float, bins: float, part: float) -> NDArray[np.bool_]:
    """Which of ``count`` bins lie farther than ``bins`` and ``part`` of the frequency from multiples of ``spacing``."""
    place = np.arange(count)
    line = np.maximum(1.0, np.round(place / spacing)) * spacing
    return np.asarray(np.abs(place - line) > np.maximum(bins, part * line))


def _between(samples: Array, places: Array) -> Array:
    """Samples at fractional ``places``: the cubic through four neighbours with their slopes (Catmull and Rom, 1974)."""
    whole = places.astype(np.intp)
    t = places - whole
    a, b, c, d = (samples.take(whole + step) for step in (-1, 0, 1, 2))
    return np.asarray(b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a))))


@lru_cache(maxsize=256)
def _hann(count: int) -> Array:
    """The Hann window, periodic; read only."""
    return np.asarray(0.5 - 0.5 * np.cos(2.0 * np.pi / count * np.arange(count)))
