"""``notes.csv``: one row a note, derived from the events and from then on edited by hand.

Columns: ``id``; ``start_s`` and ``length_s`` in seconds of the stream; ``midi_note`` 0..127; ``degree`` where the note
dwelt longest; ``velocity`` 1..127 as in MIDI; ``hole`` 1..10 and ``air`` (blow or draw); ``reed``, how it is played
(straight, bend, overblow, overdraw); ``reed_bend_cents`` from the straight reed, negative = bent down; ``or_else`` the
other reading of an ambiguous note, such as ``blow 3``. All about the reed is empty where unknown.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import get_args

import numpy as np

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.units import clip, hz_above
from bridge.harp.bends import Air, Kind
from bridge.harp.harp import Harp
from bridge.harp.reeds import ReedReading, likely_reed
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.tables_csv import table_lines, table_text

COLUMNS = (
    *("id", "start_s", "length_s", "midi_note", "degree", "velocity"),
    *("hole", "air", "reed", "reed_bend_cents", "or_else"),
)
_AIRS: dict[str, Air] = {air: air for air in get_args(Air)}
_KINDS: dict[str, Kind] = {kind: kind for kind in get_args(Kind)}
#: Decimals of the reed's bend in the table.
_BEND_DECIMALS = 1
#: A rest this long ends a phrase, in seconds: the player has taken a breath, and no breath goes on from before it.
PHRASE_REST_S = 1.0

#: Nothing below this is a pitch that an ear or a reed knows, in Hz.
_LOWEST_HZ = 20.0
#: A pitch that stays within this is at one place, in cents: a usual vibrato does, the plateaus of a wide bend do not.
_PLACE_CENTS = 100.0
#: The part of a note that lies below what counts as its lowest pitch: a slip of the tongue is no bend.
_PASSING = 0.1


@dataclass(frozen=True, slots=True)
class NoteRow:
    """One note as in ``notes.csv``; ``harp`` is what it was played on, None where that is unknown."""

    id: int
    start_s: float
    length_s: float
    midi_note: int
    degree: str
    velocity: int
    harp: Harp | None
    reading: ReedReading | None

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds of the stream."""
        return self.start_s + self.length_s


@dataclass(slots=True)
class _Sounding:
    """What is known so far of the note that sounds; ``last`` is the reading of the note that it goes on from."""

    on: NoteOn
    harp: Harp | None
    last: ReedReading | None
    degree: str
    since_s: float
    dwelt_s: dict[str, float] = field(default_factory=dict)
    heard_hz: array[float] = field(default_factory=lambda: array("d"))

    def move(self, degree: str, time_s: float) -> None:
        """Count the time at the last degree, and go on at this one."""
        self.dwelt_s[self.degree] = self.dwelt_s.get(self.degree, 0.0) + max(0.0, time_s - self.since_s)
        self.degree, self.since_s = degree, time_s

    def hear(self, hz: float) -> None:
        """Take the pitch of this moment."""
        if hz >= _LOWEST_HZ:
            self.heard_hz.append(hz)

    def reading(self, hz: float) -> ReedReading | None:
        """The likeliest reed of a pitch of this note."""
        if self.harp is None:
            return None
        lowest_hz = float(np.quantile(self.heard_hz, _PASSING)) if self.heard_hz else hz
        return likely_reed(self.harp, hz, self.last, lowest_hz)


class NotesDeriver:
    """Makes a row of each note from events in order, on ``harp`` (None: unknown, the rows tell no reed).

    Every note that has begun gets a row, which comes back from the call that ends it, at the latest :meth:`finish`.
    """

    def __init__(self, harp: Harp | None) -> None:
        self._harp = harp
        self._sounding: _Sounding | None = None
        self._last: ReedReading | None = None
        self._ended_s = 0.0
        self._hz = 0.0

    def add(self, event: Event) -> NoteRow | None:
        """Take the next event; the note that ends with it comes back."""
        match event:
            case PitchPoint():
                self._hz = event.hz
            case NoteOn():
                ended = self.finish(event.time_s)
                last = self._last if event.time_s - self._ended_s < PHRASE_REST_S else None
                self._sounding = _Sounding(event, self._harp, last, event.degree, event.time_s)
                self._sounding.hear(self._hz)
                return ended
            case Inflection() if self._sounding is not None and event.note_id == self._sounding.on.note_id:
                self._sounding.move(event.degree, event.time_s)
                self._sounding.hear(self._hz)
            case NoteOff() if self._sounding is not None and event.note_id == self._sounding.on.note_id:
                return self.finish(event.time_s)
            case _:
                pass
        return None

    def stay(self, degree: str, since_s: float, heard_hz: Iterable[float]) -> None:
        """The note that sounds is at ``degree`` from ``since_s`` on, with these pitches, as from events one by one."""
        if self._sounding is not None:
            self._sounding.move(degree, since_s)
            for hz in heard_hz:
                self._sounding.hear(hz)

    def use(self, harp: Harp | None) -> None:
        """Go on with another harp, from the next note on; the same one, if at another A4, ends no breath."""
        if not _same_holes(harp, self._harp):
            self._last = None
        self._harp = harp

    def reading(self, hz: float) -> ReedReading | None:
        """The likeliest reed of the note that sounds if ``hz`` is its pitch; None while nothing sounds."""
        return None if self._sounding is None or hz < _LOWEST_HZ else self._sounding.reading(hz)

    def finish(self, time_s: float, settled_hz: float | None = None) -> NoteRow | None:
        """End the note that sounds, if one does; its reed is that of ``settled_hz``, else of where it dwelt longest."""
        note, self._sounding = self._sounding, None
        if note is None:
            return None
        note.move(note.degree, time_s)
        hz = settled_hz or (dwelt_hz(note.heard_hz) if note.heard_hz else 0.0)
        reading = note.reading(hz) if hz >= _LOWEST_HZ else None
        self._ended_s = time_s
        if reading is not None and _same_holes(note.harp, self._harp):
            self._last = reading
        return NoteRow(
            id=note.on.note_id,
            start_s=max(0.0, note.on.time_s),
            length_s=max(0.0, time_s - note.on.time_s),
            midi_note=note.on.midi_note,
            degree=max(note.dwelt_s, key=note.dwelt_s.__getitem__),
            velocity=max(1, round(clip(note.on.velocity, 0.0, 1.0) * 127)),
            harp=note.harp,
            reading=reading,
        )


def _same_holes(one: Harp | None, other: Harp | None) -> bool:
    """Whether a hole of both is the same note."""
    return one is not None and other is not None and (one.key, one.layout) == (other.key, other.layout)


def dwelt_hz(heard: Sequence[float]) -> float:
    """Where a pitch dwelt longest, Hz: the middle of the semitone that holds most of ``heard`` (Hz, at least one).

    The scoop into a note, the way back from a bend and a wide vibrato leave it where the note was held; of two places
    held equally long it is the lower.
    """
    ordered = np.sort(np.asarray(heard))
    ends = np.searchsorted(ordered, hz_above(1.0, _PLACE_CENTS) * ordered, side="right")
    start = int(np.argmax(ends - np.arange(len(ordered))))
    return float(ordered[(start + int(ends[start]) - 1) // 2])


def as_edited(row: NoteRow, points: Sequence[Breakpoint]) -> EditedNote:
    """The note with its breakpoints, as the tables hold it."""
    reading = row.reading
    return EditedNote(
        id=row.id,
        start_s=row.start_s,
        length_s=row.length_s,
        midi_note=row.midi_note,
        degree=row.degree,
        velocity=row.velocity,
        hole=None if reading is None else reading.hole,
        air="" if reading is None else reading.air,
        reed="" if reading is None else reading.kind,
        reed_bend_cents=None if reading is None else round(reading.bend_cents, _BEND_DECIMALS) + 0.0,
        or_else="" if reading is None else _in_the_table(reading.rival),
        points=points,
    )


def as_row(note: EditedNote, harp: Harp | None) -> NoteRow:
    """The note as it was derived, on ``harp``; a reed that the table tells only in part counts as unknown."""
    reading = None
    if note.hole is not None and note.air and note.reed:
        bend_cents = note.reed_bend_cents or 0.0
        reading = ReedReading(note.hole, _AIRS[note.air], bend_cents, _KINDS[note.reed], _rival(note.or_else))
    times = note.start_s, note.length_s
    return NoteRow(note.id, *times, note.midi_note, note.degree, note.velocity, harp, reading)


def _rival(or_else: str) -> ReedReading | None:
    """The other reading of a note from ``or_else``."""
    if not or_else:
        return None
    air, hole, *bent = or_else.split()
    return ReedReading(int(hole), _AIRS[air], 0.0, "bend" if bent else "straight")


def _in_the_table(rival: ReedReading | None) -> str:
    """The other reading of a note as ``or_else`` has it."""
    return "" if rival is None else f"{rival.air} {rival.hole}{' bend' * (rival.kind == 'bend')}"


def notes_csv_lines(notes: Iterable[EditedNote]) -> Iterator[str]:
    """The table line by line, each with its LF."""
    return table_lines(_rows(notes))


def notes_csv(notes: Iterable[EditedNote]) -> str:
    """The whole table as text with LF."""
    return table_text(_rows(notes))


def _rows(notes: Iterable[EditedNote]) -> Iterator[Sequence[object]]:
    return chain([COLUMNS], map(_fields, notes))


def note_line(note: EditedNote) -> str:
    """The row of one note."""
    return table_text([_fields(note)])


def _fields(note: EditedNote) -> tuple[object, ...]:
    # Rounded first, since -0.04 would be printed as -0.0; adding 0.0 takes the sign off.
    rounded = 0.0 if note.reed_bend_cents is None else round(note.reed_bend_cents, _BEND_DECIMALS) + 0.0
    bend = "" if note.reed_bend_cents is None else f"{rounded:.{_BEND_DECIMALS}f}"
    return (
        *(note.id, f"{note.start_s:.5f}", f"{note.length_s:.5f}", note.midi_note, note.degree, note.velocity),
        *("" if note.hole is None else note.hole, note.air, note.reed, bend, note.or_else),
    )
