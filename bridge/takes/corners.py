"""The breakpoints of all notes while their table is read, in whatever order its rows stand."""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from bridge.takes.edited import Breakpoint, Points
from bridge.takes.known import Known


@dataclass(slots=True)
class _Note:
    """The breakpoints of one note in order: of each its time, bend and breath, one after another, and its line."""

    numbers: array[float] = field(default_factory=lambda: array("d"))
    lines: array[int] = field(default_factory=lambda: array("I"))

    def put(self, line: int, point: Breakpoint) -> int | None:
        # Most often it comes after all others.
        place = count = len(self.lines)
        if count and point.at_s <= self.numbers[-3]:
            place = bisect_left(range(count), point.at_s, key=lambda one: self.numbers[3 * one])
            if self.numbers[3 * place] == point.at_s:
                return self.lines[place]
        self.numbers[3 * place : 3 * place] = array("d", (point.at_s, point.bend_cents, point.breath))
        self.lines.insert(place, line)
        return None

    def points(self) -> Points:
        return Points.of_columns(np.array(self.numbers).reshape(-1, 3).T)


class Corners:
    """Gathers the breakpoints of notes, of which those that are ``known`` already are held once.

    The rows of a note stand together unless somebody has sorted them otherwise: with the first row of another one a
    note is put away, and taken out again, for good, if one more comes.
    """

    def __init__(self, known: Known) -> None:
        self._known = known
        self._away: dict[int, Points] = {}
        self._lines: dict[int, array[int]] = {}
        self._out: dict[int, _Note] = defaultdict(_Note)
        self._last = 0
        self._scattered: set[int] = set()

    def put(self, note_id: int, line: int, point: Breakpoint) -> int | None:
        """Take one more of this note; the line of the one that has its time already, which then stays."""
        if note_id != self._last:
            self._put_away(self._last)
            self._take_out(note_id)
            self._last = note_id
        return self._out[note_id].put(line, point)

    def points(self) -> dict[int, Points]:
        """Those of each note by its number, in order of time; this is the last that can be asked."""
        self._scattered.clear()
        for note_id in list(self._out):
            self._put_away(note_id)
        return self._away

    def _put_away(self, note_id: int) -> None:
        if note_id in self._out and note_id not in self._scattered:
            note = self._out.pop(note_id)
            self._away[note_id] = self._known.points(note_id, note.points())
            self._lines[note_id] = note.lines

    def _take_out(self, note_id: int) -> None:
        points = self._away.pop(note_id, None)
        if points is not None:
            self._scattered.add(note_id)
            self._out[note_id] = _Note(array("d", points.columns.T.ravel()), self._lines.pop(note_id))
