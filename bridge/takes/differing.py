"""What an edit changes: the notes of a take before and after it, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.takes.edited import EditedNote


@dataclass(frozen=True, slots=True)
class Change:
    """One note before and after an edit; None where it is only in one of the two."""

    before: EditedNote | None
    after: EditedNote | None


def changes(before: Sequence[EditedNote], after: Sequence[EditedNote]) -> list[Change]:
    """The notes that are not the same, found by their number, in order of time as they are afterwards.

    What is left out comes first.
    """
    old, new = ({note.id: note for note in notes} for notes in (before, after))
    gone = [Change(note, None) for note in before if note.id not in new]
    return gone + [Change(old.get(note.id), note) for note in after if old.get(note.id) != note]
