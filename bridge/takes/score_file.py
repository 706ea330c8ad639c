"""The score of a take that has just been written, from its tables."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.takes.edited import Tempo
from bridge.takes.folder import TakeFolder
from bridge.takes.notes import NoteRow
from bridge.takes.score import ScoreStyle, write_score
from bridge.takes.tables import read_tables


def write_take_score(
    path: Path, folder: TakeFolder, rows: Sequence[NoteRow], tempo: Tempo | None, tab: Convention, style: ScoreStyle
) -> None:
    """Write ``score.musicxml`` of the tables in ``folder`` to ``path``; ``rows`` tell what was played on which harp.

    Raises UserError for tables that cannot be read, and OSError where it cannot be written.
    """
    harps: list[tuple[float, Harp | None]] = []
    for row in rows:
        if not harps or row.harp != harps[-1][1]:
            harps.append((row.start_s, row.harp))
    first = harps[0][1] if harps else None
    notes = read_tables(folder.notes, folder.inflections)
    with path.open("wb") as out:
        write_score(out, notes, first, tempo, style, changes=harps[1:], title=folder.name, tab=tab)
