"""A take as its tables hold it: notes, each with the breakpoints of its curve. What is edited, rebuilt and replayed.

Conventions: times in seconds from the first sample of the take, inside a note from its start; bends in cents from
``midi_note`` as it lies over the root of the harp in hand, as that harp has it: the sounding pitch is
``harp.root_hz * 2 ** ((midi_note - harp.root_midi) / 12 + bend_cents / 1200)``.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from operator import index
from typing import overload

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Breakpoint:
    """A corner of a note's curve: ``at_s`` from the note's start, ``bend_cents``, and ``breath`` 0..1."""

    at_s: float
    bend_cents: float
    breath: float


class Points(Sequence[Breakpoint]):
    """Breakpoints as a tuple of them would hold them, in 24 bytes each instead of 136.

    A breakpoint is made when one is asked for; whoever computes takes the :attr:`columns`. Equal to a tuple of as many.
    """

    #: All times, then all bends, then all breaths, as numbers of eight bytes.
    __slots__ = ("_numbers",)

    def __init__(self, points: Iterable[Breakpoint] = ()) -> None:
        rows = ((point.at_s, point.bend_cents, point.breath) for point in points)
        self._numbers = array("d", chain.from_iterable(zip(*rows, strict=True))).tobytes()

    @classmethod
    def of(cls, points: Iterable[Breakpoint]) -> Points:
        """These breakpoints; themselves where they are held so already."""
        return points if isinstance(points, Points) else cls(points)

    @classmethod
    def of_columns(cls, columns: Array) -> Points:
        """The breakpoints with these times, bends and breaths, shape (3, n)."""
        made = cls()
        made._numbers = np.asarray(columns, np.float64).tobytes()
        return made

    @property
    def columns(self) -> Array:
        """Seconds from the note's start, cents, and breath 0..1, shape (3, n), not to be written to."""
        return np.frombuffer(self._numbers).reshape(3, len(self))

    def __len__(self) -> int:
        return len(self._numbers) // 24

    @overload
    def __getitem__(self, place: int) -> Breakpoint: ...

    @overload
    def __getitem__(self, place: slice) -> Points: ...

    def __getitem__(self, place: int | slice) -> Breakpoint | Points:
        if isinstance(place, slice):
            return Points.of_columns(self.columns[:, place])
        count, at = len(self), index(place)
        if not -count <= at < count:
            raise IndexError(f"there is no breakpoint {at} of {count}")
        return Breakpoint(*self._flat[at % count :: count])

    def __iter__(self) -> Iterator[Breakpoint]:
        return map(Breakpoint, *self.columns.tolist())

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Points):
            return self._numbers == other._numbers or self._flat == other._flat
        return tuple(self) == other if isinstance(other, tuple) else NotImplemented

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return f"Points({tuple(self)!r})"

    def until(self, at_s: float) -> int:
        """How many of them, which are in order of time, come no later than ``at_s``."""
        return bisect_right(self._flat, at_s, 0, len(self))

    @property
    def _flat(self) -> memoryview[float]:
        return memoryview(self._numbers).cast("d")


@dataclass(frozen=True, slots=True)
class EditedNote:
    """One row of ``notes.csv`` with its rows of ``inflections.csv``, in order of time, at least one.

    What tells of the reed is None, or empty, where it is unknown. Between its breakpoints a curve runs straight, before
    the first and after the last it stays where they are. Whatever holds the breakpoints, here they are :class:`Points`.
    """

    id: int
    start_s: float
    length_s: float
    midi_note: int
    degree: str
    velocity: int
    hole: int | None
    air: str
    reed: str
    reed_bend_cents: float | None
    or_else: str
    points: Sequence[Breakpoint]

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", Points.of(self.points))

    @property
    def columns(self) -> Array:
        """Times in seconds from its start, bends in cents and breaths 0..1 of its breakpoints, shape (3, n)."""
        return Points.of(self.points).columns

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds of the take."""
        return self.start_s + self.length_s

    def at(self, at_s: float) -> Breakpoint:
        """Bend and breath so many seconds after its start."""
        points = Points.of(self.points)
        after = points.until(at_s)
        if after == 0:
            return Breakpoint(at_s, points[0].bend_cents, points[0].breath)
        before = points[after - 1]
        if after == len(points):
            return Breakpoint(at_s, before.bend_cents, before.breath)
        then = points[after]
        part = (at_s - before.at_s) / (then.at_s - before.at_s)
        return Breakpoint(
            at_s,
            before.bend_cents + part * (then.bend_cents - before.bend_cents),
            before.breath + part * (then.breath - before.breath),
        )


@dataclass(frozen=True, slots=True)
class Tempo:
    """Where the beats of a take lie: ``quarters_per_minute``, the time of bar 1 in seconds, and quarters in a bar."""

    quarters_per_minute: float
    bar_1_s: float
    quarters_in_bar: int = 4

    @property
    def quarter_s(self) -> float:
        """Seconds of a quarter."""
        return 60.0 / self.quarters_per_minute
