"""How late a count-in comes back from the loudspeaker, told from the sound that comes in while it is counted."""

from __future__ import annotations

import math
from statistics import fmean, median

import numpy as np
from numpy.typing import NDArray

from bridge.study.clicks import DECAY_S, FIRST_HZ, OTHER_HZ

Floats = NDArray[np.float64]

#: The sound is looked at in steps of this, seconds: two periods of a click.
_STEP_S = 1.0 / 750.0
#: A click has died away after so many steps.
_STEPS = 7
#: It comes back no later than this, seconds (wireless loudspeakers take some tenths), nor than most of a beat.
_LATEST_S, _LATEST_BEAT = 0.45, 0.85
#: Clocks may be off by so much that it seems to come back before it was played, seconds.
_EARLIEST_S = -0.02
#: A click stands out of all else at its pitch by this much, dB: by chance noise does by 5 (chi-squared, nine degrees
#: of freedom, the greatest of 340).
_STANDS_OUT_DB = 10.0
#: Clicks further apart than this do not measure the same thing, seconds; and one of all may be missing.
_APART_S = 0.006
_MAY_MISS = 1


class ClickListener:
    """Hears a stream at ``rate`` Hz in which ``beats`` clicks are played, one every ``beat_s`` from ``first_s`` on.

    The clicks are those of :func:`bridge.study.clicks.count_in`. Each is looked for as soon as it must have come, so
    that at no moment there is much to do.
    """

    def __init__(self, first_s: float, beat_s: float, beats: int, rate: int) -> None:
        self._dues_s = [first_s + beat * beat_s for beat in range(beats)]
        self._latest_s = min(_LATEST_S, _LATEST_BEAT * beat_s)
        self._rate = rate
        self._step = round(_STEP_S * rate)
        turns = 2.0j * np.pi * np.arange(self._step)[:, np.newaxis] * np.array([FIRST_HZ, OTHER_HZ]) / rate
        self._pitches = np.hanning(self._step)[:, np.newaxis] * np.exp(-turns)
        self._shape = np.exp(-2.0 * _STEP_S * np.arange(_STEPS) / DECAY_S)
        self._waiting: NDArray[np.float32] = np.zeros(0, np.float32)
        self._starts_s: list[float] = []
        self._powers: list[Floats] = []
        self._late_s: list[float | None] = []

    @property
    def over(self) -> bool:
        """Whether the last click must have come."""
        return len(self._late_s) == len(self._dues_s)

    def hear(self, start: int, samples: NDArray[np.float32]) -> None:
        """The next samples (n,), of which the first is number ``start`` of the stream."""
        waiting = np.concatenate((self._waiting, samples))
        steps = len(waiting) // self._step
        pieces = waiting[: steps * self._step].reshape(steps, self._step)
        begin = start - len(self._waiting)
        self._waiting = waiting[steps * self._step :]
        self._powers += list(np.abs(pieces @ self._pitches) ** 2)
        self._starts_s += [(begin + step * self._step) / self._rate for step in range(steps)]
        while not self.over and self._starts_s and self._starts_s[-1] >= self._looked_until_s():
            self._late_s.append(self._look())

    def delay_s(self) -> float | None:
        """How much later than they were played the clicks came in, seconds; once it is ``over``.

        None where they did not surely come back: as with headphones, or beneath other sound.
        """
        found = [each for each in self._late_s if each is not None]
        middle_s = median(found) if found else 0.0
        agreed = [each for each in found if abs(each - middle_s) <= _APART_S]
        return max(0.0, fmean(agreed)) if len(agreed) >= max(2, len(self._dues_s) - _MAY_MISS) else None

    def _looked_until_s(self) -> float:
        """When all has come that tells of the next click."""
        return self._dues_s[len(self._late_s)] + self._latest_s + _STEPS * _STEP_S

    def _look(self) -> float | None:
        """How late the next click came in, None where none stands out; what was before it is forgotten."""
        beat = len(self._late_s)
        due_s = self._dues_s[beat]
        begin, end = np.searchsorted(self._starts_s, (due_s + _EARLIEST_S, due_s + self._latest_s)).tolist()
        del self._starts_s[:begin], self._powers[:begin]
        starts_s, powers = self._starts_s[: end - begin], self._powers[: end - begin + _STEPS - 1]
        if len(powers) < _STEPS:
            return None
        likeness = np.correlate(np.array(powers)[:, min(beat, 1)], self._shape, "valid")
        # Not np.median: its first call takes 15 ms, and somebody may be playing.
        usual, most = np.sort(likeness)[[len(likeness) // 2, -1]].tolist()
        if most <= 0.0 or (usual > 0.0 and 10.0 * math.log10(most / usual) < _STANDS_OUT_DB):
            return None
        return starts_s[int(np.argmax(likeness))] + _STEP_S / 2.0 - due_s
