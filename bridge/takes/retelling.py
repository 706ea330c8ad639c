"""Degree and reed of notes that were added, or whose pitch was edited: told as of notes that were heard."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, replace

from bridge.base.events import Inflection, NoteOn
from bridge.base.units import hz_above
from bridge.harp.harp import Harp
from bridge.takes.edited import EditedNote
from bridge.takes.holes import out_of_reach, without_reed
from bridge.takes.notes import PHRASE_REST_S, NoteRow, NotesDeriver, as_edited
from bridge.takes.performed import Hearing, in_force, sampled, stays
from bridge.takes.settled import settled

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

    What is told of a reed depends on the breath of the note before, so that its phrase is played through up to it.
    """
    deriver = NotesDeriver(None)
    known: Harp | None = None
    # Both are worked out anew at each look.
    root_hz, root_midi = 0.0, 0
    needed = _up_to_wanted(notes, wanted)
    told = []
    for note, is_needed in zip(notes, needed, strict=True):
        since = in_force(note, harps)
        harp = None if since is None else since.harp
        if harp is not known:
            deriver.use(harp)
            known = harp
            root_hz, root_midi = (0.0, 0) if harp is None else (harp.root_hz, harp.root_midi)
        if not is_needed:
            told.append(note)
            continue
        row = _played(note, deriver, in_force(note, hearings), root_hz, root_midi, settles=note.id in wanted)
        told.append(_as_told(note, row) if note.id in wanted else note)
    return told


def _up_to_wanted(notes: Sequence[EditedNote], wanted: Container[int]) -> list[bool]:
    """Whether each note is wanted, or comes before one that is in the same phrase."""
    needed: list[bool] = []
    after_s: float | None = None
    for note in reversed(notes):
        is_needed = note.id in wanted or (after_s is not None and after_s - note.end_s < PHRASE_REST_S)
        needed.append(is_needed)
        after_s = note.start_s if is_needed else None
    return needed[::-1]


def _played(
    note: EditedNote, deriver: NotesDeriver, heard: Hearing | None, root_hz: float, root_midi: int, *, settles: bool
) -> NoteRow | None:
    """The row of a note that is played; ``root_hz`` 0 where nobody knows which harp it is on.

    With ``settles`` its reed is that of the pitch where it settles, as the edits count it.
    """
    at_s, bends = sampled(note, heard, _STEP_S)
    above = _CENTS_PER_SEMITONE * (note.midi_note - root_midi) + bends
    hz = [hz_above(root_hz, cents) for cents in above.tolist()]
    if heard is None:
        parts = [(note.degree, 0, len(at_s))]
    else:
        parts = [(stay.place.slot.degree, stay.first, stay.last) for stay in stays(heard, note, at_s, bends)]
    begun = Inflection(note.id, note.start_s, note.start_s, float(bends[0]), parts[0][0], 0.0, 0.0, 0.0, 0.0)
    deriver.add(NoteOn(note.id, note.start_s, note.start_s, note.midi_note, 1.0, begun))
    for degree, first, last in parts:
        deriver.stay(degree, note.start_s + float(at_s[first]), hz[first:last])
    if not settles or not root_hz:
        return deriver.finish(note.end_s)
    cents = _CENTS_PER_SEMITONE * (note.midi_note - root_midi) + settled(note).bend_cents
    return deriver.finish(note.end_s, hz_above(root_hz, cents))


def _as_told(note: EditedNote, row: NoteRow | None) -> EditedNote:
    """The note with degree and reed as its row tells them."""
    if row is None:
        return note
    told = replace(as_edited(row, note.points), start_s=note.start_s, length_s=note.length_s, velocity=note.velocity)
    # What was heard came from some reed; what was written need not, and a hole must not be made up for it.
    return without_reed(told) if out_of_reach(told) else told


def untold(notes: Iterable[EditedNote]) -> set[int]:
    """The ids of notes that were added to the table without saying which degree they are."""
    return {note.id for note in notes if not note.degree}
