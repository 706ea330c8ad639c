"""Curves of notes as arrays, and whether two of them are one, give or take some cents and some ticks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.takes.edited import Breakpoint, Points

Array = NDArray[np.float64]
#: Both of shape (n,), times in seconds.
TimesAndValues = tuple[Array, Array]
#: Lengths are rounded to the decimals of the tables, s.
_ROUNDED_S = 1e-5


@dataclass(frozen=True, eq=False)
class Curve:
    """Bend in cents and breath 0..1 at the same ``times``, in seconds from the start of a note; each of shape (n,)."""

    times: Array
    bends: Array
    breaths: Array

    @classmethod
    def of(cls, bend_line: TimesAndValues, breath_line: TimesAndValues, length_s: float) -> Curve:
        """Both at all times of either up to ``length_s``; between them run straight lines."""
        times = np.union1d(bend_line[0], breath_line[0])
        times = times[(times <= length_s + _ROUNDED_S) | (times == times[0])]
        return cls(times, np.interp(times, *bend_line), np.interp(times, *breath_line))

    def gaps_at(self, times: Array) -> Array:
        """How far apart the values before and after each of ``times`` are, in seconds; inf beyond the last.

        The first value is that of the first of ``times``, up to which it stays.
        """
        places = np.searchsorted(self.times, times, side="right")
        bounded = np.concatenate([[-np.inf, max(self.times[0], times[0])], self.times[1:], [np.inf]])
        gaps: Array = bounded[places + 1] - bounded[places]
        return gaps

    @classmethod
    def of_points(cls, points: Sequence[Breakpoint]) -> Curve:
        """The curve that breakpoints draw."""
        return cls(*Points.of(points).columns)


def stays_near(
    times: Array, values: Array, line_times: Array, line: Array, *, until_s: float, slack_s: float, within: float
) -> bool:
    """Whether every value lies within ``within`` of what the line takes around its time, ``slack_s`` to either side.

    Only values up to ``until_s`` count. Times rise; before its first and after its last value a line stays there.
    """
    inside = times <= until_s
    times, values = times[inside], values[inside]
    if not len(times):
        return True
    begins, ends = times - slack_s, times + slack_s
    moments = np.unique(np.concatenate([begins, times, ends, line_times]))
    heights = np.interp(moments, line_times, line)
    # The extremes of a line between two moments lie on them or on its corners: reduce over each stretch of moments.
    first, last = np.searchsorted(moments, begins), np.searchsorted(moments, ends)
    stretches = np.stack([first, last + 1], axis=1).ravel()
    lows = np.minimum.reduceat(np.append(heights, np.inf), stretches)[::2]
    highs = np.maximum.reduceat(np.append(heights, -np.inf), stretches)[::2]
    return bool(np.all((values >= lows - within) & (values <= highs + within)))
