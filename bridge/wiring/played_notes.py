"""The notes of a take as they were played, whatever has been edited since: what its sound holds."""

from __future__ import annotations

from bridge.takes.edited import EditedNote
from bridge.takes.rebuilt_tables import notes_of
from bridge.wiring.opening import OpenedTake


def played_notes(take: OpenedTake) -> tuple[EditedNote, ...]:
    """What the sound of a take holds; for a take made before these were kept, the notes of its tables."""
    played = take.folder.played
    return tuple(notes_of(played, [take.notes, *take.known])) if played.has_tables else take.notes
