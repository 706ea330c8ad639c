"""Whether a sound's true period is a part of the one that was found, or a multiple of it.

What repeats after a period repeats after twice that as well, and nearly after a half of it when its even partials are
strong. So the unlikeness of parts and multiples is weighed against that of the period itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bridge.follow.lags import LagHistory, Refiner

Array = NDArray[np.float64]

#: A shorter period is believed when it is at most this much more unlike than the best one.
_AS_GOOD_RATIO = 2.0
_AS_GOOD_EXTRA = 0.006
#: Few reeds have nearly all their strength in every third or fifth partial: where a note begins, such a period is most
#: often what it and the tail of the one before have in common (a fifth apart: three of one, two of the other), and the
#: note is its shorter part.
_TWO_NOTES_EXTRA = 0.1
#: A lag is looked at between the samples only when it is this alike at one of them.
_WORTH_A_LOOK = 0.6
#: While a note begins its unlikeness grows with the lag; a multiple this many times less unlike is the true period.
_DOUBT_RATIO = 1.2
#: Of two reeds an octave apart the upper speaks first. While the lower one comes in, two periods are 3 to 20 times less
#: unlike than one; of a single reed, even in a room, 2.3 times at most (measured on sampled and rehearsed notes).
#: The last of these may be the follower's own inexactness, on high bent notes above all.
_OCTAVE_RATIO, _OCTAVE_UNLIKE = 2.6, 0.03
#: Where an old note rings on under a new one, what they have in common is the pitch of neither. A period with more
#: unlikeness than this, of which a half or a third is nearly alike, may be such a one.
_UNCLEAR = 0.02
_PART_ALIKE = 0.4
#: No part of a period is farther from where it must be than this part of itself (6 %: 100 cents).
_REACH = 0.06


class Multiples:
    """Parts and multiples of periods in ``history``, from ``shortest`` to ``longest`` samples."""

    def __init__(self, refiner: Refiner, history: LagHistory, shortest: float, longest: float) -> None:
        self._refiner = refiner
        self._history = history
        self._shortest = shortest
        self._longest = longest

    def shorter(self, row: Array, end: int, period: float, likeness: float) -> float:
        """The shortest part of ``period`` that may be the true period of a note that begins; 0 when there is none.

        ``row`` is the likeness of every lag at the hop that ends at ``history.samples[end]``, as in the others.
        """
        as_good = self.as_good(row, end, period, likeness)
        allowed = _allowed(likeness) + _TWO_NOTES_EXTRA
        return self._part(row, end, as_good or period, (5, 3), allowed) or as_good

    def as_good(self, row: Array, end: int, period: float, likeness: float) -> float:
        """The shortest part of ``period`` (half, third, ...) that repeats as well as it does; 0 when there is none."""
        return self._part(row, end, period, range(8, 1, -1), _allowed(likeness))

    def may_be_longer(self, end: int, period: float, likeness: float, age: int) -> bool:
        """Whether ``period`` may be only a half or a third of the true one, or too little has sounded to tell.

        The sound began ``age`` samples ago.
        """
        unlike = 1.0 - likeness
        if unlike < _AS_GOOD_EXTRA:
            return False
        for parts in (2, 3):
            lag = parts * period
            if lag > self._longest:
                break
            window = int(age - lag)
            if window < period:
                return parts == 2
            _, height = self._refiner.refine(self._history, end, lag, min(window, int(2 * lag)))
            if unlike > _DOUBT_RATIO * (1.0 - height):
                return True
        return False

    def octave_below(self, end: int, period: float, age: int) -> float:
        """Twice ``period`` where that is clearly the true period, as when a lower reed has come in; otherwise 0."""
        lag = 2.0 * period
        window = int(min(age - lag, lag))
        if lag > self._longest or window < 0.8 * period:
            return 0.0
        _, alike = self._refiner.refine(self._history, end, period, window)
        exact, height = self._refiner.refine(self._history, end, lag, window)
        is_clear = 1.0 - alike > _OCTAVE_UNLIKE + _OCTAVE_RATIO * (1.0 - height)
        return exact if is_clear and abs(exact - lag) < _REACH * lag else 0.0

    def may_be_two(self, row: Array, end: int, period: float, likeness: float) -> bool:
        """Whether ``period`` may be only what two notes have in common, an old one that rings on and a new one."""
        return 1.0 - likeness > _UNCLEAR and self._part(row, end, period, (2, 3), _PART_ALIKE) > 0.0

    def _part(self, row: Array, end: int, period: float, parts: Sequence[int], allowed: float) -> float:
        """The first of these parts of ``period`` that repeats with no more unlikeness than ``allowed``, or 0."""
        window = max(int(period), 3 * self._history.hop)
        # Most often nothing shorter is alike at all.
        first = round(max(self._shortest, period / max(parts))) - 1
        alike = row[first : round(period / min(parts)) + 2].tolist()
        if max(alike, default=0.0) < _WORTH_A_LOOK:
            return 0.0
        for part in parts:
            lag = period / part
            if lag < self._shortest:
                continue
            near = round(lag) - first
            if max(alike[near - 1 : near + 2]) < _WORTH_A_LOOK:
                continue
            exact, height = self._refiner.refine(self._history, end, lag, window)
            if 1.0 - height <= allowed and abs(exact - lag) < _REACH * lag:
                return exact
        return 0.0


def _allowed(likeness: float) -> float:
    """How unlike a shorter period may be to be as good as one of this ``likeness``."""
    return _AS_GOOD_RATIO * max(0.0, 1.0 - likeness) + _AS_GOOD_EXTRA
