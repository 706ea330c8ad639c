"""The map of the third on paper: zones, lines, names and ways of notes as numbers that a template draws.

It is the map of the board, standing still: the same zones, surfaces and names, and time from left to right. Units are
those of the picture, ``WIDTH`` by ``HEIGHT``; cents are above the root, from 50 below it on; seconds are the teacher's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.quantise.third import ThirdZone
from bridge.study.marks import CLEAN_LEAST, NoteMarks, note_curve
from bridge.study.note_frames import NoteFrames
from bridge.web.zones import ABOVE_STRAIGHT, BELOW_MINOR, zones_of

Floats = NDArray[np.float64]

WIDTH, HEIGHT = 480.0, 340.0
#: Ways end so far from the right edge, where the names of the lines stand.
_NAMES = 86.0
#: The map shows further than the board's where somebody played further, up to a limit, cents.
_FURTHEST, _ROOM_CENTS = 200.0, 15.0
#: Beneath stand the marks of time.
_ROOM_BELOW_CENTS = 40.0
#: Blueness at which the slopes of the blue zone get a contour line.
_CONTOURS = (0.75, 0.5, 0.25)
_ROOM_S = 0.1
#: Marks of time are at least so far apart, and points of a way so near, in units of the picture.
_TIMES_APART, _POINT = 70.0, 1.5
#: A name needs so much height, the name of a line none.
_NAME_HEIGHT = 17.0


@dataclass(frozen=True, slots=True)
class Zone:
    """One zone: its name, where that has room, else an empty one; its surface; where it lies from top down."""

    name: str
    surface: str
    top: float
    height: float
    name_y: float


@dataclass(frozen=True, slots=True)
class TimeMark:
    """A mark of time, at ``x``, and what stands at it."""

    x: float
    words: str


@dataclass(frozen=True, slots=True)
class Way:
    """The way of one note, as SVG paths: all of it, and the parts in which two holes sound; where it began, settled."""

    path: str
    doubled: str
    began: tuple[float, float]
    settled: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ThirdMap:
    """A whole map; ``model`` is drawn beneath ``way``, and either may be missing."""

    zones: tuple[Zone, ...]
    contours: tuple[float, ...]
    minor_y: float
    straight_y: float
    times: tuple[TimeMark, ...]
    way: Way | None
    model: Way | None


@dataclass(frozen=True, slots=True, eq=False)
class Played:
    """One note to draw, begun ``since_s`` after the left edge's time 0; its seconds are ``scale`` of the teacher's."""

    frames: NoteFrames
    marks: NoteMarks
    since_s: float = 0.0
    scale: float = 1.0

    @property
    def end_s(self) -> float:
        """When it ends on the map, seconds."""
        return self.since_s + self.marks.length_s / self.scale

    def curve(self) -> tuple[Floats, Floats]:
        """Seconds on the map and cents, each of shape (n,)."""
        found = note_curve(self.frames)
        if found is None:
            return np.zeros(0), np.zeros(0)
        return self.since_s + found[0] / self.scale, found[1]


class Scale:
    """Where cents and seconds lie in the picture, for all ``played`` on maps that stand beside each other.

    The picture reaches from ``from_s`` to ``to_s`` seconds, ``per_second`` of its units each, and from ``low`` to
    ``high`` cents.
    """

    def __init__(self, zones: Sequence[ThirdZone], played: Sequence[Played]) -> None:
        cents = np.concatenate([np.zeros(0), *(note.curve()[1] for note in played)])
        lowest, highest = min(zone.minor for zone in zones), max(zone.straight for zone in zones)
        self.low, self.high = lowest - BELOW_MINOR, highest + ABOVE_STRAIGHT
        if len(cents):
            low, high = float(np.min(cents)) - _ROOM_BELOW_CENTS, float(np.max(cents)) + _ROOM_CENTS
            self.low = min(self.low, max(low, lowest - _FURTHEST))
            self.high = max(self.high, min(high, highest + _FURTHEST))
        self.from_s = min([0.0, *(note.since_s for note in played)]) - _ROOM_S
        last_s = max([0.5, *(note.end_s for note in played)])
        self.per_second = (WIDTH - _NAMES) / (last_s - self.from_s)
        self.to_s = self.from_s + WIDTH / self.per_second

    def x(self, seconds: float) -> float:
        """Units from the left edge."""
        return self.per_second * (seconds - self.from_s)

    def y(self, cents: float) -> float:
        """Units from the top, never outside the picture."""
        inside = min(max(cents, self.low), self.high)
        return HEIGHT * (self.high - inside) / (self.high - self.low)

    def times(self, beats: Sequence[float] | None) -> tuple[TimeMark, ...]:
        """Marks of the ``beats`` (seconds) where they are known, else of seconds from time 0 on."""
        if beats is not None:
            shown = [at_s for at_s in beats if self.from_s <= at_s <= self.to_s]
            return tuple(TimeMark(self.x(at_s), "beat") for at_s in shown)
        step_s = next(
            (step for step in (0.5, 1.0, 2.0, 5.0) if self.x(step) - self.x(0.0) >= _TIMES_APART),
            10.0,
        )
        count = int(self.to_s / step_s)
        return tuple(TimeMark(self.x(step * step_s), f"{step * step_s:g} s") for step in range(count + 1))


def third_map(
    zone: ThirdZone,
    scale: Scale,
    played: Played | None = None,
    model: Played | None = None,
    beats: Sequence[float] | None = None,
) -> ThirdMap:
    """The map over ``zone`` with the way of one note, and that of a ``model`` beneath it."""
    return ThirdMap(
        tuple(_zones(zone, scale)),
        tuple(scale.y(cents) for cents in _contours(zone)),
        scale.y(zone.minor),
        scale.y(zone.straight),
        scale.times(beats),
        None if played is None else _way(played, scale),
        None if model is None else _way(model, scale),
    )


def _zones(zone: ThirdZone, scale: Scale) -> list[Zone]:
    lines = {"minor": scale.y(zone.minor), "straight": scale.y(zone.straight)}
    found = []
    for each in zones_of(zone, scale.low, scale.high):
        top, bottom = scale.y(each.high), scale.y(each.low)
        # There is little room beside a way: what lies between two zones is said in a word.
        name = each.name.split(" ", maxsplit=1)[0] if each.name.startswith("between") else each.name
        said = name if name in lines or bottom - top >= _NAME_HEIGHT else ""
        found.append(Zone(said, each.surface, top, bottom - top, lines.get(name, 0.5 * (top + bottom))))
    return found


def _contours(zone: ThirdZone) -> list[float]:
    """Cents of the contour lines: raised-cosine slopes, 0 at the straight third and one half at the minor third."""
    turns = [math.acos(2.0 * blueness - 1.0) / math.pi for blueness in _CONTOURS]
    up = [zone.zone_high + turn * (zone.straight - zone.zone_high) for turn in turns]
    return up + [zone.zone_low - turn * 2.0 * (zone.zone_low - zone.minor) for turn in turns]


def _way(played: Played, scale: Scale) -> Way | None:
    """The way of a note; None for one without any pitch to draw."""
    seconds, cents = played.curve()
    if not len(seconds):
        return None
    since_s = (seconds - played.since_s) * played.scale
    frames = played.frames
    clean = np.interp(since_s, frames.time_s - frames.start_s, frames.clean)
    points = [(scale.x(at), scale.y(height)) for at, height in zip(seconds.tolist(), cents.tolist(), strict=True)]
    kept = _thinned(points)
    doubled = (clean < CLEAN_LEAST).tolist()
    marks = played.marks
    settled_s = played.since_s + max(marks.settle_s, float(since_s[0])) / played.scale
    return Way(
        _path([points[place] for place in kept]),
        "".join(_path(part) for part in _stretches(points, doubled, kept)),
        (points[0][0], scale.y(marks.begin_cents)),
        (scale.x(settled_s), scale.y(marks.settle_cents)),
    )


def _thinned(points: Sequence[tuple[float, float]]) -> list[int]:
    """Places of those points that lie apart, the first and the last among them."""
    kept = [0]
    for place, (x, y) in enumerate(points):
        before = points[kept[-1]]
        if math.hypot(x - before[0], y - before[1]) >= _POINT:
            kept.append(place)
    return [*kept, len(points) - 1]


def _stretches(
    points: Sequence[tuple[float, float]], wanted: Sequence[bool], kept: Sequence[int]
) -> list[list[tuple[float, float]]]:
    """Runs of the kept points that are wanted."""
    found: list[list[tuple[float, float]]] = []
    open_run = False
    for place in kept:
        if wanted[place]:
            if not open_run:
                found.append([])
            found[-1].append(points[place])
        open_run = wanted[place]
    return [run for run in found if len(run) > 1]


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
