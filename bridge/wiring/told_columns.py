"""Degree and reed of notes that were edited by hand, told anew so that ``notes.csv`` agrees with itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bridge.takes.derived_columns import same_pitch, with_other_pitch, with_own_columns, with_reed_of
from bridge.takes.edited import EditedNote
from bridge.wiring.opening import OpenedTake
from bridge.wiring.played_notes import played_notes


def tell_columns(take: OpenedTake, before: Sequence[EditedNote]) -> tuple[OpenedTake, frozenset[int]]:
    """The take with degree and reed as the tables now have it, and the ids of the notes whose row is another by that.

    ``before`` are the notes that all was last made from. A note that is as it was played has what was told of it then,
    from every frame; what the player has written in these columns himself stays.
    """
    old = {note.id: note for note in before}
    other = with_other_pitch(take.notes, old)
    if not other:
        return take, take.untold
    told = take.with_notes(take.notes, retold=other).notes
    # An edit of a take has no MIDI file as it was played, and what it was played on may be another harp.
    known = {note.id: note for note in played_notes(take)} if take.folder.played.midi.exists() else {}
    notes = tuple(
        with_own_columns(
            _as_played(new, known.get(new.id)), now, old.get(now.id), harp_known=take.harp_at(now) is not None
        )
        if now.id in other
        else now
        for new, now in zip(told, take.notes, strict=True)
    )
    changed = {now.id for now, then in zip(notes, take.notes, strict=True) if now != then}
    return replace(take, notes=notes), take.untold | changed


def _as_played(told: EditedNote, played: EditedNote | None) -> EditedNote:
    """The note with what was told of it when it was played, where it is that again."""
    if played is None or not same_pitch(told, played):
        return told
    return with_reed_of(replace(told, degree=played.degree), played)
