"""The score of a take that has just been written, from its tables."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.takes.edited import Tempo
from bridge.takes.folder import TakeFolder
from bridge.takes.notes import NoteRow
from bridge.takes.score import ScoreStyle, score_xml
from bridge.takes.tables import read_tables


def take_score(
    folder: TakeFolder, rows: Sequence[NoteRow], tempo: Tempo | None, tab: Convention, style: ScoreStyle
) -> bytes:
    """``score.musicxml`` of the tables in ``folder``; ``rows`` tell which note was played on which harp.

    Raises UserError for tables that cannot be read.
    """
    harps: list[tuple[float, Harp | None]] = []
    for row in rows:
        if not harps or row.harp != harps[-1][1]:
            harps.append((row.start_s, row.harp))
    first = harps[0][1] if harps else None
    notes = read_tables(folder.notes, folder.inflections)
    return score_xml(notes, first, tempo, style, changes=harps[1:], title=folder.name, tab=tab)
