"""Degree and reed of notes that were added, or whose pitch was edited: told as of notes that were heard."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, replace

from bridge.base.events import NoteOff, NoteOn, PitchPoint
from bridge.base.units import hz_above
from bridge.harp.harp import Harp
from bridge.takes.edited import EditedNote
from bridge.takes.notes import NotesDeriver, as_edited
from bridge.takes.performed import Hearing, in_force, performed

_CENTS_PER_SEMITONE = 100.0
#: Close enough to tell where a note dwells, s.
_STEP_S = 0.01


@dataclass(frozen=True, slots=True)
class HarpSince:
    """The harp in hand from ``since_s`` on, in seconds of the take; None where it is not known."""

    since_s: float
    harp: Harp | None


def told_again(
    notes: Sequence[EditedNote], wanted: Container[int], hearings: Sequence[Hearing], harps: Sequence[HarpSince]
) -> list[EditedNote]:
    """``notes``, in order, with degree and reed anew for those whose id is ``wanted``.

    What is told of a reed depends on the breath of the note before, so that all of them are played through.
    """
    deriver = NotesDeriver(None)
    known: Harp | None = None
    told = []
    for note in notes:
        since = in_force(note, harps)
        harp = None if since is None else since.harp
        if harp is not known:
            deriver.use(harp)
            known = harp
        again = _again(note, deriver, hearings, harp)
        told.append(again if note.id in wanted else note)
    return told


def _again(note: EditedNote, deriver: NotesDeriver, hearings: Sequence[Hearing], harp: Harp | None) -> EditedNote:
    """The note with degree and reed as they are told when it is played."""
    for event in performed([note], hearings, step_s=_STEP_S):
        if harp is not None and not isinstance(event, NoteOff):
            value = event.inflection if isinstance(event, NoteOn) else event
            above = _CENTS_PER_SEMITONE * (note.midi_note - harp.root_midi) + value.bend_cents
            deriver.add(PitchPoint(value.time_s, value.time_s, hz_above(harp.root_hz, above), above, 0.0, 1.0))
        row = deriver.add(event)
        if row is not None:
            return replace(
                as_edited(row, note.points), start_s=note.start_s, length_s=note.length_s, velocity=note.velocity
            )
    return note


def untold(notes: Iterable[EditedNote]) -> set[int]:
    """The ids of notes that were added to the table without saying which degree they are."""
    return {note.id for note in notes if not note.degree}
