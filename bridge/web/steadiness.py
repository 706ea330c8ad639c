"""Whether the pitch shakes: how far it strays from its way within the last 150 ms."""

from __future__ import annotations

from collections import deque

import numpy as np

_SPAN_S = 0.150
#: Fewer points, or a shorter time, say nothing.
_LEAST_POINTS = 8
_LEAST_S = 0.1
#: What strays farthest, at both ends together, is a slip.
_SLIPS = 0.1


class Steadiness:
    """The last 150 ms of a pitch that sounds without a break, in cents."""

    def __init__(self) -> None:
        self._points: deque[tuple[float, float]] = deque()

    def add(self, at_s: float, cents: float) -> None:
        """Take the pitch of this moment."""
        self._points.append((at_s, cents))
        while self._points[0][0] < at_s - _SPAN_S:
            self._points.popleft()

    def clear(self) -> None:
        """It was silent, or another note begins."""
        self._points.clear()

    @property
    def median(self) -> float | None:
        """The middle of the span, None as long as it is too short."""
        return float(np.median([cents for _, cents in self._points])) if self._long_enough() else None

    def strays(self) -> float:
        """Cents between the ends of what the pitch strays from a straight way (a glide is one); 0 if too short."""
        if not self._long_enough():
            return 0.0
        at_s, cents = np.asarray(self._points).T
        from_middle = at_s - at_s.mean()
        slope = (from_middle * cents).sum() / (from_middle**2).sum()
        away = cents - cents.mean() - slope * from_middle
        low, high = np.quantile(away, (_SLIPS / 2.0, 1.0 - _SLIPS / 2.0))
        return float(high - low)

    def _long_enough(self) -> bool:
        points = self._points
        return len(points) >= _LEAST_POINTS and points[-1][0] - points[0][0] >= _LEAST_S
