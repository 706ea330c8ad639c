"""The tables of a take as they come from its events, while it is written or when it is recovered."""

from __future__ import annotations

import io

from bridge.base.events import Event
from bridge.harp.harp import Harp
from bridge.takes.breakpoints import Tolerance
from bridge.takes.inflections import InflectionsDeriver, inflection_lines, inflections_csv
from bridge.takes.notes import NoteRow, NotesDeriver, as_edited, notes_csv


class TablesDeriver:
    """Gathers notes with their breakpoints from events in order; ``rows`` are the notes that have ended.

    ``harp`` is the one it begins on, None unknown. Breakpoints are kept as the text that is written, since an hour has
    some hundred thousand of them.
    """

    def __init__(self, harp: Harp | None, tolerance: Tolerance) -> None:
        self._notes = NotesDeriver(harp)
        self._inflections = InflectionsDeriver(tolerance)
        self._text = io.StringIO()
        self._text.write(inflections_csv(()))
        self.rows: list[NoteRow] = []

    def add(self, event: Event) -> None:
        """Take the next event."""
        self._keep(self._notes.add(event))
        self._inflections.add(event)

    def use(self, harp: Harp | None) -> None:
        """Go on with another harp, from the next note on."""
        self._notes.use(harp)

    def finish(self, time_s: float) -> None:
        """End the note that sounds, if one does."""
        self._keep(self._notes.finish(time_s))

    @property
    def notes_text(self) -> str:
        """``notes.csv``."""
        return notes_csv(as_edited(row, ()) for row in self.rows)

    @property
    def inflections_text(self) -> str:
        """``inflections.csv``."""
        return self._text.getvalue()

    def _keep(self, row: NoteRow | None) -> None:
        if row is not None:
            self.rows.append(row)
            self._text.write(inflection_lines(as_edited(row, self._inflections.take(row.length_s))))
