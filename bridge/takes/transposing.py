"""Notes taken over to another harp, and where on a harp the degree of a note is straight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bridge.base.errors import UserError
from bridge.base.units import CENTS_PER_OCTAVE, cents_between
from bridge.harp.harp import Harp
from bridge.harp.positions import root_semitones
from bridge.quantise.scales import DEGREES
from bridge.takes.choosing import THIRD
from bridge.takes.edited import EditedNote

_CENTS_PER_SEMITONE = 100.0
_TOP_NOTE = 127


def transposed(notes: Sequence[EditedNote], harps: Sequence[Harp], other: Harp) -> list[EditedNote]:
    """The notes over the root of another harp, each as far above it as it was above that of the harp it was played on.

    ``harps`` are those that the notes were played on, one for each. Holes stay those of the old harp. Raises UserError
    for a note that MIDI does not have.
    """
    moved = []
    for note, harp in zip(notes, harps, strict=True):
        midi_note = note.midi_note + other.root_midi - harp.root_midi
        if not 0 <= midi_note <= _TOP_NOTE:
            raise UserError(f"Note {note.id} would become MIDI note {midi_note}, allowed: 0 to 127. Take another harp.")
        moved.append(replace(note, midi_note=midi_note))
    return moved


def straight_bend(note: EditedNote, harp: Harp, third_cents: float, rest_cents: float) -> float:
    """The bend at which the degree that a note dwelt on is straight, in the octave nearest to ``rest_cents``.

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
    octaves = round((anchor + rest_cents - straight) / CENTS_PER_OCTAVE)
    return straight + CENTS_PER_OCTAVE * octaves - anchor
