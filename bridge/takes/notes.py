"""``notes.csv``: one row a note, derived from the events and from then on edited by hand.

Columns: ``id``; ``start_s`` and ``length_s`` in seconds of the stream; ``midi_note`` 0..127; ``degree`` where the note
dwelt longest; ``velocity`` 1..127 as in MIDI; ``hole`` 1..10 and ``air`` (blow or draw), both empty where unknown.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from statistics import median_low

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.units import clip
from bridge.harp.harp import Harp
from bridge.harp.reeds import likely_reed

COLUMNS = ("id", "start_s", "length_s", "midi_note", "degree", "velocity", "hole", "air")

#: Nothing below this is a pitch that an ear or a reed knows, in Hz.
_LOWEST_HZ = 20.0

#: From a pitch in Hz to hole and air, or None where that cannot be said.
ReedOf = Callable[[float], tuple[int, str] | None]


@dataclass(frozen=True, slots=True)
class NoteRow:
    """One note as in ``notes.csv``."""

    id: int
    start_s: float
    length_s: float
    midi_note: int
    degree: str
    velocity: int
    hole: int | None
    air: str


@dataclass(slots=True)
class _Sounding:
    """What is known so far of the note that sounds."""

    on: NoteOn
    degree: str
    since_s: float
    dwelt_s: dict[str, float] = field(default_factory=dict)
    heard_hz: dict[str, list[float]] = field(default_factory=dict)

    def move(self, degree: str, time_s: float) -> None:
        """Count the time at the last degree, and go on at this one."""
        self.dwelt_s[self.degree] = self.dwelt_s.get(self.degree, 0.0) + max(0.0, time_s - self.since_s)
        self.degree, self.since_s = degree, time_s


class NotesDeriver:
    """Collects rows from events in order; every note that has begun gets a row, at the latest by :meth:`finish`."""

    def __init__(self, reed_of: ReedOf) -> None:
        self.rows: list[NoteRow] = []
        self._reed_of = reed_of
        self._sounding: _Sounding | None = None
        self._hz = 0.0

    def add(self, event: Event) -> None:
        """Take the next event."""
        match event:
            case PitchPoint():
                self._hz = event.hz
            case NoteOn():
                self.finish(event.time_s)
                self._sounding = _Sounding(event, event.degree, event.time_s)
                self._hear(event.degree)
            case Inflection() if self._sounding is not None and event.note_id == self._sounding.on.note_id:
                self._sounding.move(event.degree, event.time_s)
                self._hear(event.degree)
            case NoteOff() if self._sounding is not None and event.note_id == self._sounding.on.note_id:
                self.finish(event.time_s)
            case _:
                pass

    def use(self, reed_of: ReedOf) -> None:
        """Go on with another harp, from the next note on."""
        self._reed_of = reed_of

    def finish(self, time_s: float) -> None:
        """End the note that sounds, if one does."""
        note, self._sounding = self._sounding, None
        if note is None:
            return
        note.move(note.degree, time_s)
        degree = max(note.dwelt_s, key=note.dwelt_s.__getitem__)
        heard = note.heard_hz.get(degree)
        reed = self._reed_of(median_low(heard)) if heard else None
        hole, air = reed or (None, "")
        self.rows.append(
            NoteRow(
                id=note.on.note_id,
                start_s=max(0.0, note.on.time_s),
                length_s=max(0.0, time_s - note.on.time_s),
                midi_note=note.on.midi_note,
                degree=degree,
                velocity=max(1, round(clip(note.on.velocity, 0.0, 1.0) * 127)),
                hole=hole,
                air=air,
            )
        )

    def _hear(self, degree: str) -> None:
        if self._sounding is not None and self._hz >= _LOWEST_HZ:
            self._sounding.heard_hz.setdefault(degree, []).append(self._hz)


def reeds_of(harp: Harp) -> ReedOf:
    """Hole and air by the most likely reed of a harp."""

    def reed_of(hz: float) -> tuple[int, str] | None:
        reading = likely_reed(harp, hz)
        return reading.hole, str(reading.air)

    return reed_of


def notes_csv(rows: Iterable[NoteRow]) -> str:
    """The whole table as text with LF."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        hole = "" if row.hole is None else row.hole
        times = f"{row.start_s:.5f}", f"{row.length_s:.5f}"
        writer.writerow((row.id, *times, row.midi_note, row.degree, row.velocity, hole, row.air))
    return text.getvalue()
