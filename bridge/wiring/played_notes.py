"""The notes of a take as they were played, whatever has been edited since: what its sound holds."""

from __future__ import annotations

from bridge.takes.edited import EditedNote
from bridge.takes.rebuilt_tables import notes_of, tables_digest
from bridge.wiring.opening import OpenedTake


def played_notes(take: OpenedTake) -> tuple[EditedNote, ...]:
    """What the sound of a take holds; for a take made before these were kept, the notes of its tables."""
    played = take.folder.played
    if not played.has_tables:
        return take.notes
    if tables_digest(played) == take.digest:
        return take.as_read
    return tuple(notes_of(played, [take.as_read, *take.known]))
