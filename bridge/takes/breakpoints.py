"""A curve as the fewest breakpoints that keep it, within a tolerance, at every one of its frames.

Corners stand on frames, and straight lines run between them. Which frames can be joined is found with the cone of
slopes that pass every frame between (Imai and Iri, Computer Vision, Graphics and Image Processing 36, 1986), and a way
with few corners by a search, breadth first. To go on from every frame that so many lines can reach finds the fewest
there are; from the four furthest alone it takes a tenth of the time, and rarely one corner in thirty more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.takes.edited import Breakpoint

Array = NDArray[np.float64]
Floats = NDArray[np.floating]

#: Decimals of the table: ten microseconds, a hundredth of a cent, a thousandth of the breath.
TIME_DECIMALS, BEND_DECIMALS, BREATH_DECIMALS = 5, 2, 3
#: Frames are looked at in portions that grow, because most cones close soon.
_FIRST_LOOK = 32
#: From so many of the frames that were reached the search goes on.
FURTHEST = 4
#: So far a number may lie outside its tolerance by the rounding of the computation alone.
_EXACT = 1e-9


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far the breakpoints may leave the frames: ``bend_cents``, and ``breath`` 0..1; both above 0."""

    bend_cents: float
    breath: float


def fewest_breakpoints(
    at_s: Floats, bend_cents: Floats, breath: Floats, tolerance: Tolerance, furthest: int = FURTHEST
) -> list[Breakpoint]:
    """Breakpoints of a curve with frames at ``at_s`` (s, rising), all of shape (n,), n at least 1.

    The first and the last frame are breakpoints, in the decimals of the table; between them the lines leave no frame
    by more than the tolerance. The search goes on from the ``furthest`` frames; with n there are no fewer.
    """
    frames = _Frames(at_s, np.stack([bend_cents, breath]), np.array([tolerance.bend_cents, tolerance.breath]))
    return [frames.breakpoint(place) for place in _short_way(frames, furthest)]


class _Frames:
    """The frames, the corners on them, and which of these can be joined."""

    def __init__(self, at_s: Floats, values: Floats, tolerance: Array) -> None:
        self.at_s = at_s
        self.low = values - tolerance[:, np.newaxis] - _EXACT
        self.high = values + tolerance[:, np.newaxis] + _EXACT
        self.corner_s = np.round(at_s, TIME_DECIMALS)
        self.corner = np.stack([np.round(values[0], BEND_DECIMALS), np.round(values[1], BREATH_DECIMALS)])

    def breakpoint(self, place: int) -> Breakpoint:
        """The breakpoint on the frame ``place``."""
        bend, breath = self.corner[:, place].tolist()
        # Adding 0.0 takes the sign off a zero.
        return Breakpoint(float(self.corner_s[place]), bend + 0.0, breath + 0.0)

    def joined(self, place: int) -> NDArray[np.bool_]:
        """Which of the frames after ``place`` a straight line from it may end on, up to where its cone closes."""
        start, look = place + 1, _FIRST_LOOK
        low, high = np.full((2, 1), -np.inf), np.full((2, 1), np.inf)
        found = []
        while start < len(self.at_s):
            part = slice(start, start + look)
            passed_s = self.at_s[part] - self.corner_s[place]
            here = self.corner[:, place : place + 1]
            # The slopes that pass within reach of each frame, and of all up to it.
            lows = np.maximum.accumulate(np.hstack([low, (self.low[:, part] - here) / passed_s]), axis=1)
            highs = np.minimum.accumulate(np.hstack([high, (self.high[:, part] - here) / passed_s]), axis=1)
            slopes = (self.corner[:, part] - here) / (self.corner_s[part] - self.corner_s[place])
            found.append(np.all((lows[:, :-1] <= slopes) & (slopes <= highs[:, :-1]), axis=0))
            low, high = lows[:, -1:], highs[:, -1:]
            if np.any(low > high):
                break
            start, look = start + look, 2 * look
        return np.concatenate(found) if found else np.zeros(0, np.bool_)


def _short_way(frames: _Frames, furthest: int) -> list[int]:
    """The frames of the corners from the first frame to the last."""
    last = len(frames.at_s) - 1
    before = np.full(last + 1, -1)
    before[0] = 0
    reached = [0]
    while before[last] < 0:
        further: list[int] = []
        for place in reached[: -furthest - 1 : -1]:
            ends = np.flatnonzero(frames.joined(place)) + place + 1
            new = ends[before[ends] < 0]
            before[new] = place
            further += new.tolist()
            if before[last] >= 0:
                break
        reached = sorted(further)
    way = [last]
    while way[-1] != 0:
        way.append(int(before[way[-1]]))
    return way[::-1]
