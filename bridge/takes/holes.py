"""The holes of notes that were changed, told anew by the harp that they are on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bridge.base.units import hz_above
from bridge.harp.bends import Air, Kind
from bridge.harp.harp import Harp
from bridge.harp.reeds import ReedReading, likely_reed
from bridge.takes.edited import EditedNote
from bridge.takes.notes import PHRASE_REST_S
from bridge.takes.settled import bends_of, settled

_CENTS_PER_SEMITONE = 100.0
_AIRS: dict[str, Air] = {"blow": "blow", "draw": "draw"}
_KINDS: dict[str, Kind] = {"straight": "straight", "bend": "bend", "overblow": "overblow", "overdraw": "overdraw"}
#: A straight reed farther than this from where a note rests does not give it, cents: half way to the next key.
_OUT_OF_REACH_CENTS = 50.0
#: The part of a note that lies below what counts as its lowest pitch: a slip of the tongue is no bend.
_PASSING = 0.1


@dataclass(frozen=True, slots=True)
class Unplayable:
    """A note that nothing on a harp gives: its number, and the MIDI note and bend in cents that it rests at."""

    id: int
    midi_note: int
    bend_cents: float


def with_holes(
    notes: Sequence[EditedNote], harps: Sequence[Harp | None], changed: Collection[int]
) -> tuple[list[EditedNote], list[Unplayable]]:
    """The notes, the ``changed`` ones (by number) with the holes of their new pitch, and what cannot be played.

    ``harps`` are those that the notes are on, one for each, None where it is unknown: nothing is told there. As in a
    take that was played, the breath of the note before goes on within a phrase.
    """
    told: list[EditedNote] = []
    unplayable = []
    held: Harp | None = None
    for note, harp in zip(notes, harps, strict=True):
        goes_on = told and harp == held and note.start_s - told[-1].end_s < PHRASE_REST_S
        before, held = (told[-1] if goes_on else None), harp
        if note.id not in changed or harp is None:
            told.append(note)
            continue
        reading = _reading(note, harp, before)
        told.append(_with_reading(note, reading))
        if reading.kind == "straight" and abs(reading.bend_cents) > _OUT_OF_REACH_CENTS:
            unplayable.append(Unplayable(note.id, note.midi_note, settled(note).bend_cents))
    return told, unplayable


def _reading(note: EditedNote, harp: Harp, before: EditedNote | None) -> ReedReading:
    """The likeliest reed of a note after the one before it in its phrase."""

    def hz(bend_cents: float) -> float:
        return hz_above(harp.root_hz, _CENTS_PER_SEMITONE * (note.midi_note - harp.root_midi) + bend_cents)

    lowest_hz = hz(float(np.quantile(bends_of(note), _PASSING)))
    return likely_reed(harp, hz(settled(note).bend_cents), _as_reading(before), lowest_hz)


def _as_reading(note: EditedNote | None) -> ReedReading | None:
    """What a row tells of its reed; None where it tells nothing."""
    if note is None or note.hole is None or note.air not in _AIRS:
        return None
    kind = _KINDS.get(note.reed, "straight")
    return ReedReading(note.hole, _AIRS[note.air], note.reed_bend_cents or 0.0, kind)


def _with_reading(note: EditedNote, reading: ReedReading) -> EditedNote:
    """The note with what a table tells of this reed."""
    rival = reading.rival
    return replace(
        note,
        hole=reading.hole,
        air=reading.air,
        reed=reading.kind,
        reed_bend_cents=round(reading.bend_cents, 1) + 0.0,
        or_else="" if rival is None else f"{rival.air} {rival.hole}{' bend' * (rival.kind == 'bend')}",
    )
