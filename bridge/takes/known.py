"""Notes that are in memory already: what a table says of them once more is not held a second time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from bridge.takes.edited import EditedNote, Points

#: Versions of a take that are held anyway, the likeliest first.
Versions = Sequence[Sequence[EditedNote]]


class Known:
    """The notes of some ``versions`` of a take, found by their number."""

    def __init__(self, versions: Iterable[Iterable[EditedNote]]) -> None:
        self._versions = [{note.id: note for note in notes} for notes in versions]

    def row(self, note: EditedNote) -> EditedNote:
        """The known note that is the same but for its breakpoints, else ``note`` itself."""
        for version in self._versions:
            other = version.get(note.id)
            if other is not None and replace(other, points=note.points) == note:
                return other
        return note

    def points(self, note_id: int, points: Points) -> Points:
        """The breakpoints of a known note of this number where they are the same, else ``points`` themselves."""
        for version in self._versions:
            other = version.get(note_id)
            if other is not None and other.points == points:
                return Points.of(other.points)
        return points
