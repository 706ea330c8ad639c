"""What a display knows: events folded, one after the other, into what there is to show."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Record, Saying
from bridge.base.units import CENTS_PER_OCTAVE, hz_above, hz_to_midi
from bridge.harp.harp import Harp, make_harp
from bridge.harp.reeds import ReedReading
from bridge.harp.tab import Convention
from bridge.takes.finished import Finished, finish_note
from bridge.takes.notes import NoteRow, NotesDeriver

#: Points of the trail behind the mark: at most this many, none older than ``_TRAIL_S``.
_TRAIL_POINTS = 1000
_TRAIL_S = 1.0
_BELOW_ROOT = 50.0
#: The reed of a note that sounds is told from its last moments, in seconds: a turn of a usual vibrato (4 to 8 Hz).
_READING_S = 0.2


@dataclass
class DisplayState:
    """The sum of all records so far.

    ``harps`` are those of the set, by which holes are told (none: they are not), ``convention`` is that of the tab.
    ``delays`` is what the last status said of them, None while nothing was sent live.
    ``place`` is the harp's in the set, 0 outside it; ``straight`` and ``a4_hz`` are the harp's, None before its first
    status and while it is ``sought``. ``take_stopped_s`` is the stream time after which nothing is kept any more of a
    take that should be, None otherwise. ``unseen`` counts the records that this display was too slow for; ``stalled``
    says that none comes any more, so that the last pitch is an old one.
    """

    harps: tuple[Harp, ...] = ()
    convention: Convention = "signs"
    armed: bool = True
    harp: str = ""
    sought: bool = False
    place: int = 0
    straight: float | None = None
    a4_hz: float | None = None
    lost: int = 0
    take_stopped_s: float | None = None
    delays: tuple[float, float, int] | None = None
    unseen: int = 0
    stalled: bool = False
    saying: str = ""
    said_before: str = ""
    note: NoteOn | None = None
    inflection: Inflection | None = None
    point: PitchPoint | None = None
    finished: Finished | None = None
    trail: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=_TRAIL_POINTS))
    _moves: list[Inflection] = field(default_factory=list)
    _notes: NotesDeriver = field(init=False)
    _harp: Harp | None = field(init=False)

    def __post_init__(self) -> None:
        self._harp = self.harps[0] if self.harps else None
        self._notes = NotesDeriver(self._harp)

    @property
    def heard(self) -> PitchPoint | None:
        """The pitch that sounds now; None in silence and when nothing comes in."""
        return None if self.stalled or self.point is None or self.point.hz <= 0.0 else self.point

    @property
    def harp_in_hand(self) -> Harp | None:
        """The harp that is played, by the last status; None where it is not known."""
        return self._harp

    @property
    def reading(self) -> ReedReading | None:
        """The likely reed of the note that sounds, by the middle of its last moments; None where there is none."""
        point = self.heard
        if point is None or not self.trail:
            return None
        lately = [cents for time_s, cents in self.trail if time_s >= point.time_s - _READING_S]
        return self._notes.reading(hz_above(point.hz, median(lately) - point.cents))

    def take(self, record: Record) -> Finished | None:
        """Fold in one record; a note that ends with it comes back."""
        ended = self._notes.add(record) if isinstance(record, Event) else None
        if isinstance(record, PitchPoint):
            self._take_point(record)
        elif isinstance(record, NoteOn):
            self.note = record
            self.inflection = record.inflection
            self._moves = [record.inflection]
            self.trail.clear()
        elif isinstance(record, Inflection):
            self._take_inflection(record)
        elif isinstance(record, NoteOff):
            return self._take_off(ended)
        elif isinstance(record, Status):
            self._take_status(record)
        elif isinstance(record, Saying) and record.text != self.saying:
            self.saying, self.said_before = record.text, self.saying
        return None

    def _take_status(self, status: Status) -> None:
        """Whether it listens, the harp in hand, what was lost, and whether the take is kept."""
        self.armed, self.lost = status.armed, status.lost
        self.take_stopped_s = status.take_stopped_s
        self.harp, self.place = status.harp, status.place
        self.sought = status.sought
        self.delays = (status.sent_s, status.sent_99_s, status.late) if status.sent_s else None
        self.straight, self.a4_hz = (None, None) if status.sought else (status.straight, status.a4_hz)
        self._harp = _in_hand(status, self.harps)
        self._notes.use(self._harp)

    def _take_point(self, point: PitchPoint) -> None:
        """The pitch of this moment, and a step of the trail."""
        self.point = point
        if point.hz > 0.0:
            self.trail.append((point.time_s, point.cents))
        while self.trail and self.trail[0][0] < point.time_s - _TRAIL_S:
            self.trail.popleft()

    def _take_inflection(self, inflection: Inflection) -> None:
        """What moves inside the note; what belongs to a note whose beginning was missed is only shown."""
        self.inflection = inflection
        if self.note is not None and self.note.note_id == inflection.note_id:
            self._moves.append(inflection)

    def _take_off(self, ended: NoteRow | None) -> Finished | None:
        """The end of a note; a display that missed its beginning has nothing to say about it."""
        if ended is None:
            return None
        self.note = self.inflection = None
        self.finished = finish_note(ended, self._moves, self.convention)
        return self.finished


def _in_hand(status: Status, harps: Sequence[Harp]) -> Harp | None:
    """The harp of a status: that of the set, or one like it in another key or at another A4; None if unknown.

    One outside the set is like the one of its key that is in it, or else like the first.
    """
    key, named, position = status.harp.partition(" harp, ")
    if not harps or not named or status.sought:
        return None
    if not status.place:
        like = next((harp for harp in harps if harp.key == key), harps[0])
    elif ((like := harps[status.place - 1]).key, like.a4_hz) == (key, status.a4_hz):
        return like
    return make_harp(key, position.removesuffix(" position"), status.a4_hz, like.layout, like.temperament)


def root_midi(point: PitchPoint, a4_hz: float) -> int:
    """MIDI note of the root that the cents of ``point``, which has a pitch, are counted from."""
    return round(hz_to_midi(hz_above(point.hz, -point.cents), a4_hz))


def folded(cents: float) -> float:
    """``cents`` from the nearest root that is not more than a quarter tone above, -50 to 1150."""
    return (cents + _BELOW_ROOT) % CENTS_PER_OCTAVE - _BELOW_ROOT
