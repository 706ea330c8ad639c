"""What the spectrum says besides the pitch: how clean and how bright."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

#: Looked at for this long at least, in whole periods, in seconds.
_LOOK_S = 0.010
#: The reading is smoothed with this time constant, in seconds: fluttering hands (up to 8 Hz) still come through.
_SMOOTH_S = 0.020
#: It is read this often, in seconds: finer than controllers go out.
_READ_S = 0.0025
#: A sound that repeats less surely than this tells nothing of its partials: the pitch is wrong, or it is no reed.
_SURE = 0.7
#: Power of overtones over that of the fundamental, added to every reading: below lies what the pitch is uncertain by.
_LEAST_OVERTONES = 0.01
#: The reading of 0.5 at 440 Hz, dB, how much lower it lies an octave up, and the dB from 0 to 1: about half way between
#: open hands and a low-pass at 1.2 kHz on every reed of the sampled harmonica, low F to high G (measured).
_HALF_DB, _FALL_DB, _RANGE_DB = 7.0, 5.0, 24.0
_HALF_HZ = 440.0


class Brightness:
    """How open the sound is from hop to hop, 0..1, whatever its level; one object follows one stream.

    From the strength of the overtones, each counted with the square of its number less one, against the power of the
    whole. Both come from how the sound agrees with itself one period ago, where neither breath nor the noise of a room
    agrees with itself, so that a soft note in noise is no brighter than a loud one. ``rate`` in Hz, ``hop_s`` from hop
    to hop.
    """

    def __init__(self, rate: int, hop_s: float) -> None:
        self._rate = rate
        self._look = _LOOK_S * rate
        self._every = max(1, round(_READ_S / hop_s))
        self._share = 1.0 - math.exp(-hop_s / _SMOOTH_S)
        self._hops = 0
        self._reading: float | None = None
        self._bright: float | None = None

    def rest(self) -> None:
        """Nothing sounds any more: the next sound is read afresh."""
        self._reading = self._bright = None

    def step(self, samples: NDArray[np.float64], end: int, hz: float, likeness: float) -> float:
        """The reading at ``samples[end]`` of a sound of ``hz`` that repeats with ``likeness``, -1..1.

        Looks back the longer of 10 ms and one period, and another period and two samples. Where the sound is unsure
        the last reading stands; it is 0.5 before there is any.
        """
        self._hops += 1
        if likeness >= _SURE:
            if self._reading is None or self._hops >= self._every:
                self._reading, self._hops = self._read(samples, end, self._rate / hz), 0
            if self._reading is not None:
                before = self._reading if self._bright is None else self._bright
                self._bright = before + self._share * (self._reading - before)
        return 0.5 if self._bright is None else self._bright

    def _read(self, samples: NDArray[np.float64], end: int, period: float) -> float | None:
        """The reading of one look, None when there is nothing to read."""
        window = round(period * math.ceil(self._look / period))
        near = round(period)
        begin = end - window
        past = samples[begin - near - 2 : end - near + 2]
        if begin - near - 2 < 0 or near < 2:
            return None
        # The sound's agreement with itself around one period ago, the longest lag first.
        agrees = np.correlate(past, samples[begin:end], "valid").tolist()
        bends = [2.0 * agrees[i] - agrees[i - 1] - agrees[i + 1] for i in (1, 2, 3)]
        late = near - period
        power, slope = _between(agrees[1:4], late), _between(bends, late)
        if power <= 0.0 or slope <= 0.0:
            return None
        # A difference of neighbours is 2 sin(w / 2), so the mean frequency follows from the inverse.
        mean = 2.0 * math.asin(min(1.0, math.sqrt(slope / power) / 2.0)) * period / (2.0 * math.pi)
        overtones_db = 10.0 * math.log10(max(0.0, mean * mean - 1.0) + _LEAST_OVERTONES)
        octaves = math.log2(self._rate / period / _HALF_HZ)
        return min(1.0, max(0.0, 0.5 + (overtones_db - _HALF_DB + _FALL_DB * octaves) / _RANGE_DB))


def cleanness(likeness: float) -> float:
    """How surely one reed sounds, 0..1: two reeds at once do not repeat within a few periods of either."""
    return min(1.0, max(0.0, (likeness - 0.5) / 0.45))


def _between(three: list[float], at: float) -> float:
    """The parabola through values at -1, 0 and 1, read at ``at``."""
    before, here, after = three
    return here + at * (after - before) / 2.0 + at * at * (before + after - 2.0 * here) / 2.0
