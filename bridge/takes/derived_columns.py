"""The columns of ``notes.csv`` that follow from the others, and which of them a player has written with his own hand.

``degree``, and the five that tell of the reed, follow from the number of a note, its length and its curve. Whoever
edits those need not see to these: they are told anew, but for what he wrote there himself in the same edit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from bridge.takes.edited import EditedNote


def with_other_pitch(notes: Iterable[EditedNote], before: Mapping[int, EditedNote]) -> set[int]:
    """The ids of those of which degree and reed may be others than in ``before``, by their id, or that are new."""
    return {note.id for note in notes if note.id not in before or not same_pitch(note, before[note.id])}


def same_pitch(one: EditedNote, other: EditedNote) -> bool:
    """Whether all that degree and reed follow from is the same."""
    same = (one.midi_note, one.length_s) == (other.midi_note, other.length_s)
    return same and np.array_equal(one.columns[:2], other.columns[:2])


def with_own_columns(
    told: EditedNote, written: EditedNote, before: EditedNote | None, *, harp_known: bool
) -> EditedNote:
    """``told``, with the degree, and the reed, that the player has ``written`` himself: not empty, nor as ``before``.

    Where nothing can be told of the reed, the harp not being known, what is written stays.
    """
    if written.degree and (before is None or written.degree != before.degree):
        told = replace(told, degree=written.degree)
    own_reed = written.hole is not None and (before is None or _reed(written) != _reed(before))
    return with_reed_of(told, written) if own_reed or not harp_known else told


def with_reed_of(note: EditedNote, other: EditedNote) -> EditedNote:
    """The note with what is told of the reed of another one."""
    return replace(
        note,
        hole=other.hole,
        air=other.air,
        reed=other.reed,
        reed_bend_cents=other.reed_bend_cents,
        or_else=other.or_else,
    )


def _reed(note: EditedNote) -> tuple[object, ...]:
    return note.hole, note.air, note.reed, note.reed_bend_cents, note.or_else
