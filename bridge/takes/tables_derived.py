"""The tables of a take and its tab as they come from its events, while it is written or when it is recovered."""

from __future__ import annotations

from array import array
from pathlib import Path
from types import TracebackType
from typing import Self

from bridge.base.events import Event
from bridge.base.spool import Spool
from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.takes.breakpoints import Tolerance
from bridge.takes.inflections import InflectionsDeriver, inflection_lines, inflections_csv
from bridge.takes.notes import NoteRow, NotesDeriver, as_edited, note_line, notes_csv
from bridge.takes.tab_file import Tab


class TablesDeriver:
    """Gathers notes with their breakpoints from events in order, as the text that is written.

    ``harp`` is the one it begins on, None unknown; ``tab`` is how holes are written. An hour has some hundred thousand
    breakpoints: the text waits in files without a name in ``folder``. A context manager that closes when left.
    """

    def __init__(self, harp: Harp | None, tolerance: Tolerance, tab: Convention, folder: Path) -> None:
        self._notes = NotesDeriver(harp)
        self._inflections = InflectionsDeriver(tolerance)
        self._tab = Tab(tab)
        self._notes_text, self._inflections_text, self._tab_text = Spool(folder), Spool(folder), Spool(folder)
        self._notes_text.append(notes_csv(()).encode())
        self._inflections_text.append(inflections_csv(()).encode())
        self._tab_text.append(self._tab.opening.encode())
        #: Where the notes that have ended begin, in seconds, and the first note on each harp.
        self.starts_s = array("d")
        self.on_each_harp: list[NoteRow] = []

    def add(self, event: Event) -> None:
        """Take the next event."""
        self._keep(self._notes.add(event))
        self._inflections.add(event)

    def use(self, harp: Harp | None) -> None:
        """Go on with another harp, from the next note on."""
        self._notes.use(harp)

    def finish(self, time_s: float) -> None:
        """End the note that sounds, if one does, and the tab; once, before anything is written."""
        self._keep(self._notes.finish(time_s))
        self._tab_text.append(b"\n")

    def write_notes(self, path: Path) -> None:
        """Write ``notes.csv`` to ``path``. This and the others raise OSError, and may be called again."""
        self._notes_text.copy_to(path)

    def write_inflections(self, path: Path) -> None:
        """Write ``inflections.csv`` to ``path``."""
        self._inflections_text.copy_to(path)

    def write_tab(self, path: Path) -> None:
        """Write ``tab.txt`` to ``path``."""
        self._tab_text.copy_to(path)

    def take_back(self) -> None:
        """Hold what was gathered in memory, so that the disk has room for the files; raises OSError."""
        for text in (self._notes_text, self._inflections_text, self._tab_text):
            text.take_back()

    def close(self) -> None:
        """Give up what was gathered; closing again does nothing."""
        for text in (self._notes_text, self._inflections_text, self._tab_text):
            text.close()

    def _keep(self, row: NoteRow | None) -> None:
        if row is None:
            return
        note = as_edited(row, self._inflections.take(row.length_s))
        self._notes_text.append(note_line(note).encode())
        self._inflections_text.append(inflection_lines(note).encode())
        self._tab_text.append(self._tab.add(row).encode())
        self.starts_s.append(row.start_s)
        if not self.on_each_harp or row.harp != self.on_each_harp[-1].harp:
            self.on_each_harp.append(row)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
