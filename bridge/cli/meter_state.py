"""What the meter knows: events folded, one after the other, into what there is to show."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from statistics import median

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Record, Saying
from bridge.base.units import CENTS_PER_OCTAVE, hz_above, hz_to_midi

_NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
#: Points of the trail behind the mark: at most this many, none older than ``_TRAIL_S``.
_TRAIL_POINTS = 1000
_TRAIL_S = 1.0
#: A reed has come to its pitch by then, in seconds: 60 to 100 ms on sampled harmonica, measured.
_ATTACK_S = 0.06
_BELOW_ROOT = 50.0


@dataclass(frozen=True)
class Finished:
    """One note that has ended: name, degrees at start and end, seconds, where it was held, and how far it went.

    ``held_cents`` and ``blueness`` are medians over the note without its attack; all cents are bends.
    """

    name: str
    degree: str
    last_degree: str
    start_s: float
    length_s: float
    held_cents: float
    lowest_cents: float
    highest_cents: float
    blueness: float

    def sentence(self) -> str:
        """The note in one plain line."""
        moved = f" to {self.last_degree}" if self.last_degree != self.degree else ""
        return (
            f"{self.start_s:9.3f} s  {self.name:<4} degree {self.degree}{moved}, {self.length_s:.2f} s, "
            f"held at {round(self.held_cents):+d} cents, {blue_words(self.blueness)}"
            f" (from {round(self.lowest_cents):+d} to {round(self.highest_cents):+d})"
        )


@dataclass
class MeterState:
    """The sum of all records so far.

    ``unseen`` counts those that this display was too slow for; ``stalled`` says that none comes any more, so that the
    last pitch is an old one.
    """

    armed: bool = True
    harp: str = ""
    lost: int = 0
    unseen: int = 0
    stalled: bool = False
    saying: str = ""
    note: NoteOn | None = None
    inflection: Inflection | None = None
    point: PitchPoint | None = None
    finished: Finished | None = None
    trail: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=_TRAIL_POINTS))
    _moves: list[Inflection] = field(default_factory=list)

    @property
    def heard(self) -> PitchPoint | None:
        """The pitch that sounds now; None in silence and when nothing comes in."""
        return None if self.stalled or self.point is None or self.point.hz <= 0.0 else self.point

    def take(self, record: Record) -> Finished | None:
        """Fold in one record; a note that ends with it comes back."""
        if isinstance(record, PitchPoint):
            self._take_point(record)
        elif isinstance(record, NoteOn):
            self.note = record
            self._moves = []
            self.trail.clear()
            self._take_inflection(record.inflection)
        elif isinstance(record, Inflection):
            self._take_inflection(record)
        elif isinstance(record, NoteOff):
            return self._take_off(record)
        elif isinstance(record, Status):
            self.armed, self.harp, self.lost = record.armed, record.harp, record.lost
        elif isinstance(record, Saying):
            self.saying = record.text
        return None

    def _take_point(self, point: PitchPoint) -> None:
        """The pitch of this moment, and a step of the trail."""
        self.point = point
        if point.hz > 0.0:
            self.trail.append((point.time_s, point.cents))
        while self.trail and self.trail[0][0] < point.time_s - _TRAIL_S:
            self.trail.popleft()

    def _take_inflection(self, inflection: Inflection) -> None:
        """What moves inside the note."""
        self.inflection = inflection
        self._moves.append(inflection)

    def _take_off(self, off: NoteOff) -> Finished | None:
        """The end of a note; a display that missed its beginning has nothing to say about it."""
        note, inflection = self.note, self.inflection
        if note is None or inflection is None or note.note_id != off.note_id:
            return None
        self.note = self.inflection = None
        bends = [move.bend_cents for move in self._moves]
        spoken = [move for move in self._moves if move.time_s >= note.time_s + _ATTACK_S] or self._moves
        held = median(move.bend_cents for move in spoken)
        moved = inflection.degree != note.degree
        self.finished = Finished(
            name=note_name(note.midi_note + round(held / 100.0) if moved else note.midi_note),
            degree=note.degree,
            last_degree=inflection.degree,
            start_s=note.time_s,
            length_s=off.time_s - note.time_s,
            held_cents=held,
            lowest_cents=min(bends),
            highest_cents=max(bends),
            blueness=median(move.blueness for move in spoken),
        )
        return self.finished


def note_name(midi_note: int) -> str:
    """Name of a MIDI note, middle C (60) being C4 (scientific pitch notation)."""
    return f"{_NAMES[midi_note % 12]}{midi_note // 12 - 1}"


def root_name(point: PitchPoint, a4_hz: float) -> str:
    """Letter of the root that the cents of ``point`` are counted from; "the root" while nothing sounds."""
    if point.hz <= 0.0:
        return "the root"
    return _NAMES[round(hz_to_midi(hz_above(point.hz, -point.cents), a4_hz)) % 12]


def folded(cents: float) -> float:
    """``cents`` from the nearest root that is not more than a quarter tone above, -50 to 1150."""
    return (cents + _BELOW_ROOT) % CENTS_PER_OCTAVE - _BELOW_ROOT


def blue_words(blueness: float) -> str:
    """How blue, in words."""
    for least, words in ((0.95, "fully blue"), (0.6, "mostly blue"), (0.3, "half blue"), (0.05, "a little blue")):
        if blueness >= least:
            return words
    return "not blue"
