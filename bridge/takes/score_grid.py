"""Times on the grid of a score: each beat is divided as simply as what begins in it allows.

A beat is a quarter. Its notes fall on halves, thirds, quarters and so on of it; which, is weighed beat by beat: the
squared distance of every beginning from the grid against how unusual the division is. This is the usual form of rhythm
quantisation (Cemgil, Desain & Kappen, Computer Music Journal 24(2), 2000; from memory), with prices set by hand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from bridge.takes.edited import Tempo

#: Ticks of a quarter: sixteenths and twelfths of it are whole.
TICKS = 48
#: Price of dividing a beat so; triplets and what comes of them, and plain divisions.
_PLAIN: Mapping[int, float] = {1: 0.0, 2: 0.7, 4: 2.0, 8: 5.0, 16: 9.0}
_TRIPLE: Mapping[int, float] = {3: 2.0, 6: 5.0, 12: 9.0}
#: How exactly a player begins a note, and how much less exactly it ends or moves on, seconds.
_BEGINS_S, _MOVES_S = 0.03, 0.08
#: Price of two notes that begin at one place of the grid; less for what follows so soon that an ear hears an ornament.
_COLLISION, _ORNAMENT, _ORNAMENT_S = 12.0, 3.0, 0.06
#: Clock time is no rhythm that should be simple: what divisions cost there.
_CLOCK_PRICE = 0.3


@dataclass(frozen=True, slots=True)
class _Moment:
    """Something in a beat: seconds from the beat, and how exact it is in seconds."""

    at_s: float
    exact_s: float


@dataclass(frozen=True, slots=True)
class _Begun:
    """Where a note begins, in ticks from bar 1, and when, in seconds from it."""

    tick: int
    time_s: float


@dataclass(frozen=True, slots=True)
class _Beat:
    """What is in a beat, in seconds from it: the notes that begin, and what only ends or moves."""

    begins_s: list[float] = field(default_factory=list)
    moves_s: list[float] = field(default_factory=list)

    def moments(self) -> list[_Moment]:
        """All of it."""
        begins = [_Moment(at_s, _BEGINS_S) for at_s in self.begins_s]
        return begins + [_Moment(at_s, _MOVES_S) for at_s in self.moves_s]


class Grid:
    """The divisions of beats, from what begins and what only ends or moves in them, note by note in order of time.

    What is not ``measured`` is clock time: finer, and without triplets. Times are seconds of the take. A beat is
    divided once a later note begins after it, or at :meth:`finish`; places in it can be asked for from then on.
    """

    def __init__(self, tempo: Tempo, *, measured: bool) -> None:
        self._tempo = tempo
        clock = {division: _CLOCK_PRICE * price for division, price in _PLAIN.items()}
        self._prices = {**_PLAIN, **_TRIPLE} if measured else clock
        self._beats: dict[int, _Beat] = {}
        self._divisions: dict[int, int] = {}
        self._divided_to: float = -math.inf
        self._last: _Begun | None = None

    def add(self, begins_s: float, moves_s: Iterable[float]) -> None:
        """Take the next note: where it begins, no sooner than the one before, and where it moves on or ends."""
        beat, at_s = self._beat(begins_s)
        self._divide(beat)
        self._beats.setdefault(beat, _Beat()).begins_s.append(at_s)
        for time_s in moves_s:
            beat, at_s = self._beat(time_s)
            self._beats.setdefault(beat, _Beat()).moves_s.append(at_s)

    def finish(self) -> None:
        """There is no further note: all beats are divided."""
        self._divide(math.inf)

    def is_divided(self, time_s: float) -> bool:
        """Whether the beat that a time falls into is divided, and so are all before it."""
        return self._beat(time_s)[0] < self._divided_to

    def forget(self, time_s: float) -> None:
        """No place in a beat before the one that a time falls into is asked for any more."""
        beat = self._beat(time_s)[0]
        for passed in [one for one in self._divisions if one < beat]:
            del self._divisions[passed]

    def tick(self, time_s: float) -> int:
        """The place of a time on the grid, in ticks from bar 1."""
        beat, at_s = self._beat(time_s)
        division = self._divisions.get(beat, 1)
        return TICKS * beat + round(at_s / self._tempo.quarter_s * division) * (TICKS // division)

    def cell(self, time_s: float) -> int:
        """Ticks of the smallest division of the beat that the place of a time is in."""
        # What comes shortly before a beat has its place there, where that may be divided otherwise.
        fallen_into = self._divisions.get(self._beat(time_s)[0], 1)
        return TICKS // self._divisions.get(self.tick(time_s) // TICKS, fallen_into)

    def _beat(self, time_s: float) -> tuple[int, float]:
        """The beat, counted from bar 1, and the seconds since it."""
        beat = math.floor((time_s - self._tempo.bar_1_s) / self._tempo.quarter_s)
        return beat, time_s - self._tempo.bar_1_s - beat * self._tempo.quarter_s

    def _divide(self, to: float) -> None:
        """Divide all beats before ``to``."""
        for beat in sorted(beat for beat in self._beats if beat < to):
            moments, begun = self._beats[beat].moments(), self._beats.pop(beat).begins_s
            cost = {
                division: price + self._misfit(moments, division) + self._crowd(begun, division, beat, self._last)
                for division, price in self._prices.items()
            }
            self._divisions[beat] = division = min(cost, key=cost.__getitem__)
            self._last = self._begun(begun, division, beat)[-1] if begun else self._last
        self._divided_to = to

    def _snapped(self, at_s: float, division: int) -> int:
        return round(at_s / self._tempo.quarter_s * division) * (TICKS // division)

    def _misfit(self, moments: Sequence[_Moment], division: int) -> float:
        """How far the moments of a beat lie from the grid, in squares of how exact they are."""
        tick_s = self._tempo.quarter_s / TICKS
        return sum(
            ((self._snapped(moment.at_s, division) * tick_s - moment.at_s) / moment.exact_s) ** 2 for moment in moments
        )

    def _begun(self, begun_s: Sequence[float], division: int, beat: int) -> list[_Begun]:
        """Where and when notes of a beat begin."""
        return [
            _Begun(TICKS * beat + self._snapped(at_s, division), beat * self._tempo.quarter_s + at_s)
            for at_s in begun_s
        ]

    def _crowd(self, begun_s: Sequence[float], division: int, beat: int, last: _Begun | None) -> float:
        """The price of beginnings that fall onto the one before, ``last`` for the first of the beat."""
        begun = self._begun(begun_s, division, beat)
        pairs = pairwise(begun if last is None else [last, *begun])
        return sum(
            _ORNAMENT if after.time_s - before.time_s < _ORNAMENT_S else _COLLISION
            for before, after in pairs
            if after.tick <= before.tick
        )
