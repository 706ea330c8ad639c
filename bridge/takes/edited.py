"""A take as its tables hold it: notes, each with the breakpoints of its curve. What is edited, rebuilt and replayed.

Conventions: times in seconds from the first sample of the take, inside a note from its start; bends in cents from
``midi_note`` as it lies over the root of the harp in hand, as that harp has it: the sounding pitch is
``harp.root_hz * 2 ** ((midi_note - harp.root_midi) / 12 + bend_cents / 1200)``.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Breakpoint:
    """A corner of a note's curve: ``at_s`` from the note's start, ``bend_cents``, and ``breath`` 0..1."""

    at_s: float
    bend_cents: float
    breath: float


@dataclass(frozen=True, slots=True)
class EditedNote:
    """One row of ``notes.csv`` with its rows of ``inflections.csv``, in order of time, at least one.

    What tells of the reed is None, or empty, where it is unknown. Between its breakpoints a curve runs straight, before
    the first and after the last it stays where they are.
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
    points: tuple[Breakpoint, ...]

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds of the take."""
        return self.start_s + self.length_s

    def at(self, at_s: float) -> Breakpoint:
        """Bend and breath so many seconds after its start."""
        after = bisect_right(self.points, at_s, key=lambda point: point.at_s)
        if after == 0:
            return Breakpoint(at_s, self.points[0].bend_cents, self.points[0].breath)
        before = self.points[after - 1]
        if after == len(self.points):
            return Breakpoint(at_s, before.bend_cents, before.breath)
        then = self.points[after]
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
