"""``inflections.csv``: each note's curve as breakpoints, derived from the events and from then on edited by hand.

Columns: ``id`` of the note; ``at_s`` in seconds from its start; ``bend_cents`` from its number; ``breath`` 0..1.
Between two breakpoints of a note the curve runs straight.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np

from bridge.base.events import Event, Inflection, NoteOn
from bridge.takes.breakpoints import (
    BEND_DECIMALS,
    BREATH_DECIMALS,
    TIME_DECIMALS,
    Tolerance,
    fewest_breakpoints,
)
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.tables_csv import table_lines, table_text

COLUMNS = ("id", "at_s", "bend_cents", "breath")
#: A note that goes on and on is fitted in portions of so many frames, ten seconds and more, so that memory stays flat.
_PORTION = 8192


#: Frames nearer together than the decimals of the table would be one breakpoint, s.
_LEAST_STEP_S = 2e-5


class InflectionsDeriver:
    """Makes the breakpoints of each note from events in order; frames are kept only of the note that sounds."""

    def __init__(self, tolerance: Tolerance) -> None:
        self._tolerance = tolerance
        self._note_id: int | None = None
        self._start_s = 0.0
        self._points: list[Breakpoint] = []
        self._at_s, self._bends, self._breaths = array("d"), array("d"), array("d")

    def add(self, event: Event) -> None:
        """Take the next event. A note that begins puts an end to the last one, so :meth:`take` that first."""
        match event:
            case NoteOn():
                self._forget()
                self._note_id, self._start_s = event.note_id, max(0.0, event.time_s)
                self._keep(event.inflection)
            case Inflection() if event.note_id == self._note_id:
                self._keep(event)
            case _:
                pass

    def take(self, length_s: float) -> tuple[Breakpoint, ...]:
        """The breakpoints of the note that has ended after ``length_s``: at least one, none of them after its end."""
        points = [*self._points, *self._fitted(round(length_s, TIME_DECIMALS))]
        self._forget()
        return tuple(points)

    def _keep(self, value: Inflection) -> None:
        at_s = max(0.0, value.time_s - self._start_s)
        if self._at_s and at_s - self._at_s[-1] < _LEAST_STEP_S:
            return
        self._at_s.append(at_s)
        self._bends.append(value.bend_cents)
        self._breaths.append(value.breath)
        if len(self._at_s) >= _PORTION:
            *fitted, _ = self._fitted(at_s)
            self._points += fitted
            self._at_s, self._bends, self._breaths = self._at_s[-1:], self._bends[-1:], self._breaths[-1:]

    def _fitted(self, end_s: float) -> list[Breakpoint]:
        """The breakpoints of the frames up to ``end_s``."""
        at_s = np.frombuffer(self._at_s)
        count = max(1, int(np.searchsorted(at_s, end_s, side="right")))
        bends, breaths = np.frombuffer(self._bends)[:count], np.frombuffer(self._breaths)[:count]
        points = fewest_breakpoints(at_s[:count], bends, breaths, self._tolerance)
        # Of a note without length the one frame may lie after its end.
        return [replace(point, at_s=min(point.at_s, end_s)) for point in points]

    def _forget(self) -> None:
        self._note_id, self._points = None, []
        self._at_s, self._bends, self._breaths = array("d"), array("d"), array("d")


def inflections_csv_lines(notes: Iterable[EditedNote]) -> Iterator[str]:
    """The table line by line, each with its LF."""
    return table_lines(_rows(notes))


def inflections_csv(notes: Iterable[EditedNote]) -> str:
    """The whole table as text with LF."""
    return table_text(_rows(notes))


def _rows(notes: Iterable[EditedNote]) -> Iterator[Sequence[object]]:
    return chain([COLUMNS], (_fields(note, point) for note in notes for point in note.points))


def inflection_lines(note: EditedNote) -> str:
    """The rows of one note."""
    return table_text(_fields(note, point) for point in note.points)


def _fields(note: EditedNote, point: Breakpoint) -> tuple[object, ...]:
    # Rounded first and 0.0 added, since -0.004 would be printed as -0.00.
    bend = round(point.bend_cents, BEND_DECIMALS) + 0.0
    return (
        note.id,
        f"{point.at_s:.{TIME_DECIMALS}f}",
        f"{bend:.{BEND_DECIMALS}f}",
        f"{point.breath:.{BREATH_DECIMALS}f}",
    )
