"""``tab.txt``: what was played as tab, a line a phrase, for the eye and derived from the notes.

The first line says how the tab is read. Then each harp has a heading and its phrases below; a phrase ends with a rest
of ``notes.PHRASE_REST_S``. A note whose reed is unknown is a question mark of its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from bridge.harp.tab import Convention, legend, tab
from bridge.takes.notes import PHRASE_REST_S, NoteRow

_UNKNOWN = "?"


def tab_text(rows: Iterable[NoteRow], convention: Convention) -> str:
    """The whole file as text with LF; ``rows`` in order."""
    lines = [legend(convention)]
    for (name, _), played in groupby(rows, key=_harp_of):
        lines += ["", f"{name}:", *_phrases(played, convention)]
    return "\n".join(lines) + "\n"


def _harp_of(row: NoteRow) -> tuple[str, str]:
    """What to call the harp, and its layout: where either changes the holes do."""
    return ("harp unknown", "") if row.harp is None else (row.harp.name, row.harp.layout.name)


def _phrases(rows: Iterable[NoteRow], convention: Convention) -> list[str]:
    """A line for each phrase."""
    phrases: list[list[str]] = []
    ended_s = 0.0
    for row in rows:
        if not phrases or row.start_s - ended_s >= PHRASE_REST_S:
            phrases.append([])
        phrases[-1].append(_UNKNOWN if row.reading is None else tab(row.reading, convention))
        ended_s = row.end_s
    return [" ".join(phrase) for phrase in phrases]
