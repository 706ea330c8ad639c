"""The way that the pitch has gone, kept in memory that never grows."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice

#: A point: stream time in seconds, cents.
Point = tuple[float, float]


class Trail:
    """The last ``most`` points, each with a number, so that everybody may be given what came since he last looked."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._points: list[Point] = []
        self._first = 0

    @property
    def end(self) -> int:
        """Number of the point that comes next."""
        return self._first + len(self._points)

    def add(self, at_s: float, cents: float) -> None:
        """Add a point."""
        self._points.append((at_s, cents))
        if len(self._points) >= 2 * self._most:
            del self._points[: self._most]
            self._first += self._most

    def since(self, number: int, most: int) -> list[Point]:
        """The points from ``number`` on that are still known: at most ``most`` of them, the last one always."""
        known = self._points[max(number - self._first, 0, len(self._points) - self._most) :]
        return thinned(known, most)


class Way:
    """A whole way from its beginning on in at most ``most`` points: the longer it gets, the farther they lie apart."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._every = 1
        self._came = 0
        self.points: list[Point] = []

    def add(self, at_s: float, cents: float) -> None:
        """Add a point."""
        if self._came % self._every == 0:
            self.points.append((at_s, cents))
            if len(self.points) > self._most:
                self.points = self.points[::2]
                self._every *= 2
        self._came += 1


def thinned(points: list[Point], most: int) -> list[Point]:
    """At most ``most`` of the points, evenly, the last one always."""
    if len(points) <= most:
        return points
    step = -(-len(points) // most)
    return list(islice(reversed(points), 0, None, step))[::-1]


def rounded(points: Iterable[Point]) -> list[list[float]]:
    """Points as they are sent: to a millisecond and a tenth of a cent."""
    return [[round(at_s, 3), round(cents, 1)] for at_s, cents in points]
