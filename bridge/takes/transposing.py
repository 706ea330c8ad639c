"""Notes taken over to another harp, and where on a harp the degree of a note is straight.

What a note does it does around its degree, and harps have their degrees in different places: the third of a harp that
is tuned just lies 14 cents below that of an equal one. So a note keeps how far it is bent from where its degree lies on
the harp in hand, and not how far it is above the root: what was straight is straight, and a third that was bent by a
quarter tone still is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bridge.base.errors import UserError
from bridge.base.units import CENTS_PER_OCTAVE, cents_between
from bridge.harp.harp import MAJOR_THIRD, Harp, Reed
from bridge.harp.positions import root_semitones
from bridge.quantise.scales import DEGREES
from bridge.takes.breakpoints import BEND_DECIMALS
from bridge.takes.choosing import THIRD
from bridge.takes.edited import EditedNote, Points
from bridge.takes.settled import settled

_CENTS_PER_SEMITONE, _SEMITONES_PER_OCTAVE = 100.0, 12
_TOP_NOTE = 127
#: Semitones above the root at which the reed of a third may be, the likelier first.
_THIRDS = {"3": (MAJOR_THIRD, MAJOR_THIRD - 1), "b3": (MAJOR_THIRD - 1, MAJOR_THIRD)}


def transposed(
    notes: Sequence[EditedNote], harps: Sequence[Harp], other: Harp, *, own_third: bool = False
) -> list[EditedNote]:
    """The notes over the root of another harp, each bent from where its degree lies there as it was on its own harp.

    ``harps`` are those that the notes were played on, one for each. With ``own_third`` the third is where the player
    says that it is, so many cents above any root, and stays there. Holes stay those of the old harp. Raises UserError
    for a note that MIDI does not have.
    """
    moved = []
    for note, harp in zip(notes, harps, strict=True):
        midi_note = note.midi_note + other.root_midi - harp.root_midi
        if not 0 <= midi_note <= _TOP_NOTE:
            raise UserError(f"Note {note.id} would become MIDI note {midi_note}, allowed: 0 to 127. Take another harp.")
        keeps = own_third and note.degree in THIRD
        up = 0.0 if keeps else round(_degree_off(note, other, harp) - _degree_off(note, harp, harp), BEND_DECIMALS)
        moved.append(replace(bent_by(note, up), midi_note=midi_note))
    return moved


def bent_by(note: EditedNote, cents: float) -> EditedNote:
    """The note with all of its curve so much higher, as exactly as tables tell it; the note itself for nothing."""
    if not cents:
        return note
    points = (replace(point, bend_cents=round(point.bend_cents + cents, BEND_DECIMALS) + 0.0) for point in note.points)
    return replace(note, points=Points(points))


def counted_from(note: EditedNote, harp: Harp, other: Harp) -> EditedNote:
    """A note that was played on ``harp``, sounding as it did, with its bends counted from the root as ``other`` has it.

    Tables count from the root of the harp in hand, which may lie off its note at A4 = 440 Hz.
    """
    return bent_by(note, round(harp.sharp_cents - other.sharp_cents, BEND_DECIMALS))


def _degree_off(note: EditedNote, on: Harp, played_on: Harp) -> float:
    """How far the degree that a note dwelt on lies on a harp from that of equal temperament over its root, cents.

    In the octave that the note settled in on ``played_on``. Of two reeds that give it the one in the hole of the note
    counts; the third is one place, on the reed that there is; a degree that no reed gives lies where the root has it.
    """
    step, *others = _THIRDS.get(note.degree, (DEGREES.index(note.degree),))
    above = note.midi_note - played_on.root_midi + settled(note).bend_cents / _CENTS_PER_SEMITONE
    octaves = round((above - step) / _SEMITONES_PER_OCTAVE)
    found = (_reed_at(on, one, octaves, note) for one in (step, *others))
    reed = next((reed for reed in found if reed is not None), None)
    return 0.0 if reed is None else reed.offset_cents - on.root_offset_cents


def _reed_at(harp: Harp, step: int, octaves: int, note: EditedNote) -> Reed | None:
    """The straight reed ``step`` semitones and so many octaves above the root, else in any octave; None for none."""
    semitones = root_semitones(harp.position) + step
    there = [reed for reed in harp.reeds if reed.semitones == semitones + _SEMITONES_PER_OCTAVE * octaves]
    likeliest = min(
        there,
        key=lambda reed: ((reed.hole, reed.air) != (note.hole, note.air), not reed.measured, reed.air == "blow"),
        default=None,
    )
    return likeliest or harp.straight_reed(semitones)


def straight_bend(note: EditedNote, harp: Harp, third_cents: float, near_cents: float) -> float:
    """The bend at which the degree that a note dwelt on is straight, in the octave nearest to ``near_cents``.

    Of the third, b3 included, that is ``third_cents`` above the root, the player's own; of any other degree where its
    straight reed lies, or equal temperament where there is none.
    """
    if note.degree in THIRD:
        straight = third_cents
    else:
        straight = _CENTS_PER_SEMITONE * DEGREES.index(note.degree)
        reed = harp.straight_reed(root_semitones(harp.position) + DEGREES.index(note.degree))
        if reed is not None:
            # The root itself may lie off equal temperament: what is counted is the way from one reed to the other.
            straight = cents_between(reed.hz, harp.root_hz)
    anchor = _CENTS_PER_SEMITONE * (note.midi_note - harp.root_midi)
    octaves = round((anchor + near_cents - straight) / CENTS_PER_OCTAVE)
    return straight + CENTS_PER_OCTAVE * octaves - anchor
