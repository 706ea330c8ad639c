"""Where the moments of one playing lie in another: told by the beat of both, or found from the notes of both.

Found, it is the line through the starts of the notes that the fewest outliers move: median of slopes, then median of
what is left (Theil 1950 and Sen, Journal of the American Statistical Association 63, 1968).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import median

from bridge.study.marks import Beat

#: Starts nearer together than this say nothing of the tempo, seconds.
_NEAR_S = 0.5
#: One line through two notes would leave nothing to be late.
_LEAST_NOTES = 3
#: The other notes carry the beat where there are so many of them.
_LEAST_OTHERS = 3
#: Notes that lie further than this from the line, in the middle, keep no time together: those that carry it, and
#: thirds, which may be late; seconds.
_CARRIED_S, _KEPT_S = 0.12, 0.35
#: Nobody plays the same so many times as slowly.
_SLOWEST = 3.0


@dataclass(frozen=True, slots=True)
class CommonTime:
    """What one plays at ``t`` seconds belongs to ``offset_s + scale * t`` seconds of the other.

    ``told`` is whether somebody said so, rather than the notes.
    """

    offset_s: float
    scale: float
    told: bool

    def at(self, time_s: float) -> float:
        """The moment of the other that belongs to ``time_s`` of the one."""
        return self.offset_s + self.scale * time_s

    def back(self, time_s: float) -> float:
        """The moment of the one that belongs to ``time_s`` of the other."""
        return (time_s - self.offset_s) / self.scale


@dataclass(frozen=True, slots=True)
class Starts:
    """When the two notes of a pair begin, seconds of each playing; ``third`` is whether they are thirds."""

    one_s: float
    other_s: float
    third: bool


def told_time(one: Beat, other: Beat) -> CommonTime:
    """The beats of both lie at the same moments, the first at the first."""
    scale = other.period_s / one.period_s
    return CommonTime(other.at(0.0) - scale * one.at(0.0), scale, told=True)


def found_time(pairs: Sequence[Starts]) -> CommonTime | None:
    """The time that the notes keep together, told by the others than thirds where these are enough.

    None where there are too few notes, or they keep no time together.
    """
    if len(pairs) < _LEAST_NOTES:
        return None
    others = [pair for pair in pairs if not pair.third]
    carrying = others if len(others) >= _LEAST_OTHERS and _slopes(others) else pairs
    slopes = _slopes(carrying)
    if not slopes:
        return None
    scale = median(slopes)
    if not 1.0 / _SLOWEST <= scale <= _SLOWEST:
        return None
    time = CommonTime(median(pair.other_s - scale * pair.one_s for pair in carrying), scale, told=False)
    thirds = [pair for pair in pairs if pair.third]
    kept = _off_s(time, carrying) <= _CARRIED_S and _off_s(time, thirds or pairs) <= _KEPT_S
    return time if kept else None


def _off_s(time: CommonTime, pairs: Sequence[Starts]) -> float:
    return median(abs(pair.other_s - time.at(pair.one_s)) for pair in pairs)


def _slopes(pairs: Sequence[Starts]) -> list[float]:
    return [
        (after.other_s - before.other_s) / (after.one_s - before.one_s)
        for before, after in combinations(pairs, 2)
        if after.one_s - before.one_s >= _NEAR_S
    ]
