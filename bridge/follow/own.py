"""Our own pitch estimator: causal, a few periods short, and safe about the octave.

Every hop the likeness (NSDF, see :mod:`bridge.follow.lags`) of all lags is at hand. A sound repeats after its period
and after every multiple of it, so the period is the *shortest* lag whose unlikeness is as small as the smallest:
comparing unlikeness, not likeness, keeps the octave right when the fundamental is far weaker than the second
harmonic. Once locked, the period is followed from hop to hop with a window of a few periods; the lock is given up
only when another lag repeats clearly better for some hops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bridge.follow.conditioning import Conditioner
from bridge.follow.lags import LagHistory, Refiner, parabola
from bridge.follow.multiples import Multiples
from bridge.follow.settings import FollowSettings

Array = NDArray[np.float64]

#: Where the old note rings on under a new one, both repeat after a whole multiple of the old period, and neither is
#: that low. So for some time (in seconds) such a period is not believed while a part of it is this alike; it is taken
#: for the new note's when it is very alike.
#: A period followed for less than ``_OLD_S`` is no old note's: it may be that of the upper reed of an octave, which
#: speaks first.
_RINGS_S, _OLD_S = 0.08, 0.025
_WHOLE = 0.02
_MAYBE_NEW, _NEW_NOTE = 0.3, 0.6
#: A rival period takes over when it is this many times less unlike, and by this much, for some hops running.
_BETTER_RATIO = 3.0
_BETTER_BY = 0.02
_RIVAL_HOPS = 3
#: The lower reed of an octave takes over when it is heard so many hops running in a note that has only begun.
_LOWER_HOPS = 2
#: A period is believed when it is found this many hops running.
_AGREE_HOPS = 3
#: One that may be only what two notes have in common is waited out for so many hops.
_UNCLEAR_HOPS = 12
#: How far the period may move from hop to hop, as a part of it (6 % is 100 cents; real bends move under 10).
_REACH = 0.06


class Estimate(NamedTuple):
    """Period in samples (0 = none), likeness of the periods compared, and samples looked at before the hop's end."""

    period: float
    likeness: float
    span: float


NOTHING = Estimate(0.0, 0.0, 0.0)


class Likeness(NamedTuple):
    """How alike a hop is to what came each lag before it (NSDF, by lag), and the ``top`` lag of them."""

    row: Array
    top: int


@dataclass(slots=True)
class _Lock:
    """What is being followed, or about to be."""

    period: float = 0.0
    candidate: float = 0.0
    agreed: int = 0
    unclear: int = 0
    rival: int = 0
    halved: int = 0
    lower: int = 0
    lowered: bool = False
    kept: int = 0


class OwnPitch:
    """Pitch of hops at ``rate`` Hz from ``floor_hz`` up; ``history`` holds at least ``keep`` samples.

    ``span_most`` is the most that an estimate looks at, in samples.
    """

    def __init__(self, settings: FollowSettings, rate: int, hop: int, *, floor_hz: float, keep: int) -> None:
        self._settings = settings
        self._shortest = rate / settings.ceiling_hz * 0.97
        self._longest = rate / floor_hz * 1.01
        self._span_least = settings.window_ms * rate / 1000.0
        self._rings_hops, self._old_hops = round(_RINGS_S * rate / hop), round(_OLD_S * rate / hop)
        self._first_lag = int(self._shortest) - 1
        longest_lag = int(self._longest) + 2
        self.span_most = max(self._span_least, settings.window_periods * self._longest)
        self.conditioner = Conditioner(rate, hop, high_pass_hz=0.45 * floor_hz, low_pass_hz=9000.0)
        self.history = LagHistory(
            hop=hop,
            longest_lag=longest_lag,
            window_lags=1.25,
            shortest_hops=3,
            keep=max(keep, int(self.span_most) + longest_lag + 64),
        )
        self._refiner = Refiner()
        self._multiples = Multiples(self._refiner, self.history, self._shortest, self._longest)
        self._lock = _Lock()
        #: The period followed last, and for how many hops more its note may ring.
        self._old_period, self._rings = 0.0, 0

    def release(self) -> None:
        """Give up the period that is followed; the next one is found afresh."""
        if self._lock.kept > self._old_hops:
            self._old_period = self._lock.period
            self._rings = self._rings_hops
        self._lock = _Lock()

    def rest(self) -> None:
        """Nothing sounds any more, nor rings."""
        self.release()
        self._rings = 0

    def prepare(self, hops: Array) -> list[Likeness]:
        """Take hops of shape (count, hop); returns what :meth:`estimate` reads one by one."""
        rows = self.history.append(self.conditioner.step(hops))
        tops = self._first_lag + rows[:, self._first_lag :].argmax(axis=1)
        return list(map(Likeness, rows, tops.tolist()))

    def estimate(self, hop: Likeness, end: int, age: int) -> Estimate:
        """Pitch at the ``hop`` that ends at ``history.samples[end]``.

        ``age`` is the number of samples since the sound began: nothing older is looked at.
        """
        self._rings = max(0, self._rings - 1)
        if self._lock.period > 0.0:
            kept = self._keep(hop, end, age)
            if kept.period > 0.0:
                return kept
        return self._acquire(hop, end, age)

    def _keep(self, hop: Likeness, end: int, age: int) -> Estimate:
        """Follow the locked period; releases it when it no longer repeats or a rival clearly does."""
        lock, row = self._lock, hop.row
        coarse, likeness = self._peak_near(row, lock.period)
        refined = self._refine(end, coarse, age)
        if abs(refined.period - lock.period) > _REACH * lock.period or likeness < self._settings.hold_confidence:
            self.release()
            return NOTHING
        rival = (1.0 - likeness) > _BETTER_RATIO * (1.0 - float(row[hop.top])) + _BETTER_BY
        if rival and self._rings:
            rival = not self._is_of_the_old(hop.top)
        lock.rival = lock.rival + 1 if rival else 0
        shorter = self._multiples.as_good(row, end, coarse, likeness)
        lock.halved = lock.halved + 1 if shorter else 0
        if lock.rival > _RIVAL_HOPS or lock.halved > _RIVAL_HOPS:
            self.release()
            return NOTHING
        lock.period = refined.period
        lock.kept += 1
        if lock.kept <= self._old_hops and not (lock.lowered or self._rings):
            return self._lower_reed(end, refined, age)
        return refined

    def _lower_reed(self, end: int, upper: Estimate, age: int) -> Estimate:
        """The octave below, once a lower reed is heard to come in under the ``upper`` one that spoke first."""
        lock = self._lock
        lower = self._multiples.octave_below(end, upper.period, age)
        lock.lower = lock.lower + 1 if lower else 0
        if lock.lower < _LOWER_HOPS:
            return upper
        found = self._refine(end, lower, age)
        self._lock = _Lock(period=found.period, lowered=True)
        return found

    def _acquire(self, hop: Likeness, end: int, age: int) -> Estimate:
        """Look for a period; it counts once it agrees over some hops and nothing longer could be the true one."""
        lock = self._lock
        row, top = hop
        best = float(row[top])
        if best < self._settings.confidence or top >= len(row) - 1:
            self._lock = _Lock()
            return NOTHING
        shift, best = parabola(float(row[top - 1]), best, float(row[top + 1]))
        period = top + shift
        period = self._multiples.shorter(row, end, period, best) or period
        if self._rings and self._is_of_the_old(period):
            new, height = self._new_note(row, end, period)
            if height >= _NEW_NOTE:
                period = new
            elif height >= _MAYBE_NEW:
                return NOTHING
        close = abs(period - lock.candidate) < 0.02 * period
        lock.agreed = lock.agreed + 1 if close else 1
        lock.candidate = period
        if lock.agreed < _AGREE_HOPS or age < 2.2 * period or self._multiples.may_be_longer(end, period, best, age):
            return NOTHING
        refined = self._refine(end, period, age)
        if lock.unclear < _UNCLEAR_HOPS and self._multiples.may_be_two(row, end, refined.period, refined.likeness):
            lock.unclear += 1
            return NOTHING
        lock.rival = lock.halved = lock.unclear = 0
        if abs(refined.period - period) > _REACH * period:
            self._lock = _Lock()
            return NOTHING
        lock.period = refined.period
        return refined

    def _peak_near(self, row: Array, period: float) -> tuple[float, float]:
        """Lag and likeness of the best repetition near ``period``."""
        reach = max(1, round(_REACH * period))
        low = max(self._first_lag, round(period) - reach)
        high = min(len(row) - 1, round(period) + reach + 1)
        if low >= high:
            return period, 0.0
        near: list[float] = row[low - 1 : high + 1].tolist()
        height = max(near[1 : high - low + 1])
        place = near.index(height, 1)
        if place < len(near) - 1:
            shift, height = parabola(near[place - 1], height, near[place + 1])
            return low - 1 + place + shift, height
        return float(low - 1 + place), height

    def _is_of_the_old(self, period: float) -> bool:
        """Whether ``period`` is a whole multiple, two times or more, of the period followed last."""
        times = period / self._old_period
        return times > 1.5 and abs(times - round(times)) < _WHOLE * times

    def _new_note(self, row: Array, end: int, period: float) -> tuple[float, float]:
        """The part of ``period`` that repeats best and is no part of the old period; its likeness."""
        best, height = 0.0, 0.0
        times = round(period / self._old_period)
        for part in range(2, 8):
            lag = period / part
            if math.gcd(part, times) > 1 or lag < self._shortest or row[round(lag)] < height:
                continue
            exact, alike = self._refiner.refine(self.history, end, lag, max(int(lag), 3 * self.history.hop))
            if alike > height and abs(exact - lag) < 2.0 * _WHOLE * lag:
                best, height = exact, alike
        return best, height

    def _refine(self, end: int, period: float, age: int) -> Estimate:
        """The period to a small part of a sample, from as many periods as the window holds."""
        span = min(max(self._span_least, self._settings.window_periods * period), float(max(age, 2 * period)))
        times = max(1, int(span * 2.0 / 3.0 / period))
        exact, multiple = period, 1
        while True:
            window = int(span - multiple * exact)
            total, height = self._refiner.refine(self.history, end, multiple * exact, window)
            exact = total / multiple
            if multiple >= times:
                return Estimate(exact, height, window + total)
            multiple = min(times, multiple * 4)
