"""The tempo of a performance from where its notes begin, or none.

How evenly the beginnings fall onto a pulse of any rate is the length of the mean of their phases, the Fourier
tempogram of Grosche & Mueller (IEEE TASLP 19(6), 2011) taken over the whole performance: one tempo is of use for a
score only where it holds throughout. Whether that length may be chance is Rayleigh's test (Fisher, Statistical analysis
of circular data, 1993). Of the rates that fit, listeners take a moderate one for the beat, and hear long notes on it
(Parncutt, Music Perception 11(4), 1994). Literature from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

#: Tempi that are looked for, quarters a minute; the preferred one, and how strongly it is, in octaves.
SLOWEST, FASTEST = 50.0, 200.0
_PREFERRED, _PREFERRED_OCTAVES = 100.0, 0.6
#: Parts of a beat that notes begin on: halves, thirds, quarters; and how usual each is.
_PARTS = (1, 2, 3, 4)
_USUAL = np.array([1.0, 1.0, 0.8, 0.9])
#: Width of a place in which beginnings are counted, s; and how much finer than the span asks for rates are tried.
_PLACE_S, _FINER = 0.005, 8
#: A longer note says no more of the beat, s.
_LONGEST_S = 1.0
#: A performance of which this could be chance has no tempo, nor one of which less fits.
_CHANCE, LEAST_SURE = 0.01, 0.6
#: A note fits that begins this near to its place, as a part of the distance between two places.
_NEAR = 0.2
_FEWEST = 8

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TempoEstimate:
    """A tempo: ``quarters_per_minute``, the time of the beat that the first note belongs to, and how sure it is, 0..1.

    ``sure`` is the part of the notes that begin where the tempo has a place for them, less what chance would put
    there. It does not say whether the beat is taken twice as fast or half as fast as it was meant.
    """

    quarters_per_minute: float
    first_beat_s: float
    sure: float


def estimate_tempo(starts_s: Sequence[float]) -> TempoEstimate | None:
    """The tempo of notes that begin at ``starts_s`` (seconds, any order), None where there is no steady one."""
    starts = np.unique(np.asarray(starts_s, np.float64))
    if len(starts) < _FEWEST:
        return None
    times = starts - starts[0]
    long = np.minimum(np.diff(times, append=times[-1] + _LONGEST_S), _LONGEST_S)
    step_hz, on_places = _tempogram(times, np.ones(len(times)))
    _, on_beats = _tempogram(times, long)
    beats = np.arange(math.ceil(SLOWEST / 60.0 / step_hz), int(FASTEST / 60.0 / step_hz) + 1)
    even = np.stack([on_places[part * beats] for part in _PARTS])
    parted = _USUAL[:, None] * even
    liking = np.exp(-0.5 * (np.log2(beats * step_hz * 60.0 / _PREFERRED) / _PREFERRED_OCTAVES) ** 2)
    best = int(np.argmax(liking * (on_beats[beats] + np.max(parted, axis=0))))
    which = int(np.argmax(parted[:, best]))
    part = _PARTS[which]
    if _by_chance(float(even[which, best]), times) > _CHANCE:
        return None
    place_s, first_s, sure = _fitted(times, 1.0 / (part * float(beats[best]) * step_hz))
    if sure < LEAST_SURE:
        return None
    beat_s = first_s + place_s * _beat_place(times - first_s, long, place_s, part)
    return TempoEstimate(60.0 / (part * place_s), float(starts[0] + beat_s), sure)


def _tempogram(times: _Floats, weights: _Floats) -> tuple[float, _Floats]:
    """Hz from one rate to the next, and how evenly the times fall onto a pulse of each rate, 0..1, from 0 Hz on."""
    counts = np.zeros(int(times[-1] / _PLACE_S) + 2)
    np.add.at(counts, np.round(times / _PLACE_S).astype(np.int64), weights)
    # A power of two, which is soon transformed.
    size = 1 << (_FINER * len(counts)).bit_length()
    return 1.0 / (size * _PLACE_S), np.abs(np.fft.rfft(counts, size)) / np.sum(weights)


def _by_chance(evenness: float, times: _Floats) -> float:
    """How likely times without any pulse are as even as this at the best of all rates (Rayleigh's test)."""
    rates = max(1.0, times[-1] * (FASTEST / 60.0 * _PARTS[-1] - SLOWEST / 60.0))
    return -math.expm1(rates * math.log1p(-math.exp(-len(times) * evenness**2)))


def _fitted(times: _Floats, place_s: float) -> tuple[float, float, float]:
    """The distance of two places and where one lies, fitted to ``times``; and how much more fits than by chance."""
    first_s = float(np.angle(np.mean(np.exp(2j * np.pi * times / place_s)))) / (2.0 * np.pi) * place_s
    numbers = np.round((times - first_s) / place_s)
    off = np.abs(times - first_s - numbers * place_s)
    near = off <= _NEAR * place_s
    if np.ptp(numbers[near]) > 0.0:
        place_s, first_s = (float(value) for value in np.polyfit(numbers[near], times[near], 1))
    by_chance = 2.0 * _NEAR
    return place_s, first_s, (float(np.mean(near)) - by_chance) / (1.0 - by_chance)


def _beat_place(times: _Floats, long: _Floats, place_s: float, part: int) -> int:
    """The number of the place, near the first note, that is on the beat: most of what is long begins on beats."""
    numbers = np.round(times / place_s).astype(np.int64)
    begun = [float(np.sum(long[numbers % part == at])) for at in range(part)]
    on_beat = int(np.argmax(begun))
    return int(numbers[0]) - (int(numbers[0]) - on_beat) % part
