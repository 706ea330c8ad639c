"""``tab.txt``: what was played as tab, a line a phrase, for the eye and derived from the notes.

The first line says how the tab is read. Then each harp has a heading and its phrases below; a phrase ends with a rest
of ``notes.PHRASE_REST_S``. A note whose reed is unknown is a question mark of its own.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.harp.tab import Convention, legend, tab
from bridge.takes.notes import PHRASE_REST_S, NoteRow

_UNKNOWN = "?"


class Tab:
    """Makes the file note by note: what :attr:`opening` and :meth:`add` give, one after another, and a last LF."""

    def __init__(self, convention: Convention) -> None:
        self._convention = convention
        self._harp: tuple[str, str] | None = None
        self._ended_s = 0.0

    @property
    def opening(self) -> str:
        """The line that says how the tab is read, still without its LF."""
        return legend(self._convention)

    def add(self, row: NoteRow) -> str:
        """What the next note adds; ``row`` comes in order."""
        harp = _harp_of(row)
        if harp != self._harp:
            before = f"\n\n{harp[0]}:\n"
        else:
            before = "\n" if row.start_s - self._ended_s >= PHRASE_REST_S else " "
        self._harp, self._ended_s = harp, row.end_s
        return before + (_UNKNOWN if row.reading is None else tab(row.reading, self._convention))


def tab_text(rows: Iterable[NoteRow], convention: Convention) -> str:
    """The whole file as text with LF; ``rows`` in order."""
    file = Tab(convention)
    return "".join([file.opening, *map(file.add, rows), "\n"])


def _harp_of(row: NoteRow) -> tuple[str, str]:
    """What to call the harp, and its layout: where either changes the holes do."""
    return ("harp unknown", "") if row.harp is None else (row.harp.name, row.harp.layout.name)
