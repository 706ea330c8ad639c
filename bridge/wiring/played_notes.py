"""The notes of a take as they were played, whatever has been edited since: what its sound holds."""

from __future__ import annotations

from bridge.takes.edited import EditedNote
from bridge.takes.folder import TakeFolder
from bridge.takes.tables import read_tables
from bridge.wiring.opening import OpenedTake

#: The folder inside an edited take that holds ``notes.csv`` and ``inflections.csv`` of what was played.
PLAYED = "played"


def played_folder(folder: TakeFolder) -> TakeFolder:
    """Where the tables of what was played lie in an edited take."""
    return TakeFolder(folder.path / PLAYED)


def played_notes(take: OpenedTake) -> tuple[EditedNote, ...]:
    """What the sound of a take holds; the notes of its tables where nothing was edited by a command."""
    played = played_folder(take.folder)
    return tuple(read_tables(played.notes, played.inflections)) if played.has_tables else take.notes
