"""Sound at another pitch or of another length, its timbre kept: Praat's overlap-add of single periods.

Praat finds pitch (autocorrelation) and periods (cross-correlation) and lays the periods anew: PSOLA, E. Moulines and
F. Charpentier, Speech Communication 9 (1990), through praat-parselmouth. Praat lays a period at a whole sample, which
of a high note is a rough raster: the periods are laid at a multiple of the rate.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import UserError

Floats = NDArray[np.float64]

#: Spacing of the pitch points, in seconds: fine enough for the fastest vibrato of a harp.
STEP_S = 0.0025
#: So many samples hold a period where it is laid: on sampled notes from 196 to 2,349 Hz, -200 to +200 cents, 19 of 20
#: points of Praat's pitch then lie within 1.3 cents; at 48 kHz itself within 4 to 33 (measured).
_PERIOD_SAMPLES = 600.0
#: A long stretch is laid at a lower multiple, since it is in memory as a whole.
_MOST_SAMPLES = 2**23
#: Praat's usual values for ``To Pitch (ac)``, but for silence: the end of a note rings on far below its beginning.
_CANDIDATES, _SILENCE, _VOICING, _OCTAVE, _JUMP, _TURN = 15, 0.003, 0.35, 0.01, 0.35, 0.14
#: Praat's autocorrelation window is three periods of the lowest pitch, its cross-correlation needs some more.
_LEAST_PERIODS = 6.0
#: A change of pace takes this long, in seconds.
_EDGE_S = 1e-4


def require_praat() -> Any:  # noqa: ANN401 -- a library without types
    """The library; raises UserError with the line to type where it is not installed."""
    try:
        import parselmouth
    except ImportError as error:
        raise UserError(
            "Re-singing needs praat-parselmouth, which is not installed. Type: pip install 'reedwire[resing]'"
        ) from error
    return parselmouth


@dataclass(frozen=True, slots=True)
class Longer:
    """From ``from_s`` to ``to_s`` of the sound given, every moment lasts ``factor`` times as long."""

    from_s: float
    to_s: float
    factor: float

    def after(self, times_s: Floats) -> Floats:
        """When moments of the sound given come afterwards, in seconds, any shape."""
        inside = np.clip(times_s, self.from_s, self.to_s) - self.from_s
        return times_s + (self.factor - 1.0) * inside


class Singer:
    """A stretch of sound that can be sung at any pitch.

    ``samples`` have shape (n,); its pitch lies between ``floor_hz`` and ``ceiling_hz``. ``times_s`` and ``hz``, both of
    shape (m,), are the pitch that Praat hears, where it hears one; empty where it hears none.
    """

    def __init__(self, samples: Floats, rate: int, floor_hz: float, ceiling_hz: float) -> None:
        self._praat = require_praat()
        self._call = self._praat.praat.call
        self._rate, self._floor_hz, self._ceiling_hz = rate, floor_hz, ceiling_hz
        self._samples = samples
        self._length_s = len(samples) / rate
        self.times_s, self.hz = np.zeros(0), np.zeros(0)
        self._raised: tuple[int, Any] | None = None
        if self._length_s < _LEAST_PERIODS / floor_hz or not np.any(samples):
            return
        sound = self._praat.Sound(samples, sampling_frequency=float(rate))
        costs = (_CANDIDATES, "no", _SILENCE, _VOICING, _OCTAVE, _JUMP, _TURN)
        pitch = self._call(sound, "To Pitch (ac)", STEP_S, floor_hz, *costs, ceiling_hz)
        hz = np.asarray(pitch.selected_array["frequency"], np.float64)
        voiced = hz > 0.0
        self._pulses = self._call([sound, pitch], "To PointProcess (cc)")
        if self._call(self._pulses, "Get number of points") > 0:
            self.times_s, self.hz = np.asarray(pitch.xs(), np.float64)[voiced], hz[voiced]

    def sing(self, hz: Floats, longer: Longer | None = None) -> Floats:
        """The sound with the pitch ``hz``, shape (m,) at ``times_s``; what has no pitch is copied.

        Its length is that of the sound given, and what ``longer`` adds to it.
        """
        if not len(self.times_s):
            return self._samples
        factor, raised = self._upsampled(float(max(np.max(hz), np.max(self.hz))))
        tier = self._call("Create PitchTier", "pitch", 0.0, self._length_s)
        for at_s, value in zip(self.times_s.tolist(), hz.tolist(), strict=True):
            # Praat takes the length of a period from where it begins; the pitch is that of its middle.
            self._call(tier, "Add point", at_s - 0.5 / value, value)
        longest_s = 2.0 / min(self._floor_hz, float(np.min(hz)))
        sung = self._call([raised, self._pulses, tier, self._pace(longer)], "To Sound...", longest_s).values[0]
        return _resampled(np.asarray(sung, np.float64), self._rate * factor, self._rate)

    def _upsampled(self, highest_hz: float) -> tuple[int, Any]:
        """The sound as Praat's, at a multiple of its rate, and that multiple."""
        if self._raised is None:
            wanted = _PERIOD_SAMPLES * highest_hz / self._rate
            most = max(1.0, _MOST_SAMPLES / len(self._samples))
            factor = 2 ** int(min(np.ceil(np.log2(max(wanted, 1.0))), np.floor(np.log2(most))))
            samples = _resampled(self._samples, self._rate, self._rate * factor)
            self._raised = factor, self._praat.Sound(samples, sampling_frequency=float(self._rate * factor))
        return self._raised

    def _pace(self, longer: Longer | None) -> Any:  # noqa: ANN401 -- an object of Praat's
        """Praat's tier of how much longer every moment becomes; it runs straight between its points."""
        tier = self._call("Create DurationTier", "pace", 0.0, self._length_s)
        self._call(tier, "Add point", 0.0, 1.0)
        if longer is not None:
            (from_s, to_s), most = (longer.from_s, longer.to_s), longer.factor
            for at_s, pace in ((from_s, 1.0), (from_s + _EDGE_S, most), (to_s - _EDGE_S, most), (to_s, 1.0)):
                self._call(tier, "Add point", at_s, pace)
        return tier


def _resampled(samples: Floats, rate: int, to: int) -> Floats:
    if rate == to:
        return samples
    import soxr

    return np.asarray(soxr.resample(samples, rate, to), np.float64)
