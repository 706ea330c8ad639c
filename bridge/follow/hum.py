"""Mains hum in a room in which nobody plays: lines at multiples of 50 or 60 Hz that stand out of the noise.

The rules are our own (common practice, no source); each stands beside its number. Levels are dBFS of the sound as it
comes, before any filter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock
from bridge.base.units import power_to_db

Array = NDArray[np.float64]

#: The two frequencies of the mains (IEC 60038), and how far they stray, as a part of them (from memory: 0.4 % at most).
MAINS_HZ = (50, 60)
_STRAYS = 0.004
#: One window lasts a second, so that a bin of its spectrum is 1 Hz wide.
_BIN_HZ = 1.0
#: So many multiples are looked at.
_MULTIPLES = 12
#: A line is so much above the noise within so many Hz of it, dB.
_STANDS_OUT_DB, _AROUND_HZ = 12.0, 20
#: A Hann window spreads a line over two bins to each side.
_SPREAD = 2
#: Less is nothing, dBFS.
_NOTHING_DB = -110.0
#: Hum has at least so many lines that are multiples of one of the two alone, the lowest of them among the first three:
#: a single tone, or one on F4 whose overtones happen to lie near 350 and 700 Hz, is none.
_LEAST_LINES, _LOWEST = 2, 3
_SHARED_HZ = 300
#: Hum this far under a harp's usual level is not worth a word, dB.
HARMLESS_DB = 40.0


@dataclass(frozen=True, slots=True)
class Hum:
    """Hum of the mains at ``mains_hz``: all its lines together are at ``level_db``."""

    mains_hz: int
    level_db: float

    def matters(self, harp_db: float) -> bool:
        """Whether it is worth a cure beside a harp at ``harp_db``."""
        return self.level_db > harp_db - HARMLESS_DB


class HumMeter:
    """Listens to a room at ``rate`` Hz in which nobody plays, for a second at least."""

    def __init__(self, rate: int) -> None:
        self._size = rate
        self._shape = np.hanning(rate)
        self._rest: Array = np.zeros(0)
        self._powers: Array = np.zeros(max(MAINS_HZ) * _MULTIPLES + 2 * _AROUND_HZ)
        self._windows = 0

    def hear(self, block: AudioBlock) -> None:
        """Take the next block."""
        self._rest = np.concatenate([self._rest, block.samples])
        while len(self._rest) >= self._size:
            spectrum = np.fft.rfft(self._rest[: self._size] * self._shape)
            self._powers += np.abs(spectrum[: len(self._powers)]) ** 2
            self._windows += 1
            self._rest = self._rest[self._size // 2 :]

    def hum(self) -> Hum | None:
        """The hum that was heard; None when there is none, or less than a second was heard."""
        if not self._windows:
            return None
        # So that the bins of a sine sum to its mean square (Parseval).
        powers = self._powers * 2.0 / (self._windows * self._size * float(np.sum(self._shape**2)))
        found = [hum for mains_hz in MAINS_HZ if (hum := _hum_of(powers, mains_hz)) is not None]
        return max(found, key=lambda hum: hum.level_db, default=None)


def _hum_of(powers: Array, mains_hz: int) -> Hum | None:
    """Hum of this mains in a spectrum whose bins are 1 Hz wide."""
    lines = {times: power for times in range(1, _MULTIPLES + 1) if (power := _line(powers, times * mains_hz)) > 0.0}
    own = [times for times in lines if times * mains_hz % _SHARED_HZ]
    if len(own) < _LEAST_LINES or min(own) > _LOWEST:
        return None
    return Hum(mains_hz, power_to_db(sum(lines.values())))


def _line(powers: Array, hz: int) -> float:
    """Mean square of the line near ``hz``; 0 where none stands out."""
    reach = round(_BIN_HZ + _STRAYS * hz)
    peak = hz - reach + int(np.argmax(powers[hz - reach : hz + reach + 1]))
    near = np.arange(max(1, hz - _AROUND_HZ), hz + _AROUND_HZ + 1)
    noise = float(np.median(powers[near[np.abs(near - peak) > 2 * _SPREAD]]))
    line = float(np.sum(powers[peak - _SPREAD : peak + _SPREAD + 1])) - (2 * _SPREAD + 1) * noise
    # At the edge of what is looked at lies the slope of another line.
    is_peak = bool(powers[peak] >= powers[peak - 1] and powers[peak] >= powers[peak + 1])
    stands_out = is_peak and float(powers[peak]) > noise * 10.0 ** (_STANDS_OUT_DB / 10.0)
    return line if stands_out and power_to_db(line) > _NOTHING_DB else 0.0
