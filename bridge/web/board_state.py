"""What the board shows: records folded into one state, and the messages that tell of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from bridge.base.events import NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Record, Saying
from bridge.base.units import CENTS_PER_OCTAVE, SILENCE_DB
from bridge.harp.note_names import letter, note_name
from bridge.harp.positions import position_name
from bridge.harp.tab import in_words, tab
from bridge.quantise.third import ThirdZone
from bridge.study.exercises import exercises
from bridge.takes.display_state import DisplayState, folded
from bridge.takes.notes import PHRASE_REST_S
from bridge.web.ended_note import NoteWay
from bridge.web.setup import BoardSetup
from bridge.web.steadiness import Steadiness
from bridge.web.trail import Trail, Way, rounded
from bridge.web.words import nearest_degree, pitch_words
from bridge.web.zones import zones_of

Message = dict[str, Any]

#: The trail is kept at 250 points a second, finer than any screen draws it, and for so many of them.
_TRAIL_STEP_S = 0.004
_TRAIL_POINTS = 4096
_ONSET_POINTS = 50
_PHRASE_POINTS = 600
_PHRASE_NOTES = 64


class BoardState:
    """The sum of all records so far. ``version`` changes whenever there may be something else to show."""

    def __init__(self, setup: BoardSetup) -> None:
        self._setup = setup
        self._shown = DisplayState(setup.harps, setup.tab)
        self._steadiness = Steadiness()
        self._note_way: NoteWay | None = None
        self._phrase = Way(_PHRASE_POINTS)
        self._phrase_notes: list[Message] = []
        self._sounded_s: float | None = None
        self._next_step_s = 0.0
        self._told_setup: Message = self.setup_message()
        self.trail = Trail(_TRAIL_POINTS)
        self.version = 0
        self.paused = False
        self.view: Mapping[str, Any] = {}

    def take(self, record: Record) -> list[Message]:
        """Fold in one record; what is to be told once comes back."""
        self.version += 1
        finished = self._shown.take(record)
        if isinstance(record, PitchPoint):
            return self._take_point(record)
        if isinstance(record, NoteOn):
            # What is sure only now has begun some points ago.
            self._note_way = NoteWay(record)
            for at_s, cents in self.trail.since(self.trail.end - _ONSET_POINTS, _ONSET_POINTS):
                self._note_way.add(at_s, cents)
            self._steadiness.clear()
        elif isinstance(record, NoteOff) and finished is not None and self._note_way is not None:
            told = self._note_way.told(record.time_s, finished, self.zone)
            self._note_way = None
            self._phrase_notes = [*self._phrase_notes[1 - _PHRASE_NOTES :], told]
            return [{"is": "ended", "note": told}]
        elif isinstance(record, Status):
            return self._take_status()
        elif isinstance(record, Saying):
            return [{"is": "saying", "text": record.text}]
        return []

    def mind(self, *, stalled: bool, unseen: int) -> None:
        """Whether no record comes any more, and how many this display was too slow for."""
        if (stalled, unseen) != (self._shown.stalled, self._shown.unseen):
            self._shown.stalled, self._shown.unseen = stalled, unseen
            self.version += 1

    def setup_message(self) -> Message:
        """The harp in hand and where its degrees lie; nulls where nobody knows which it is."""
        harp, zone = self._shown.harp_in_hand, self.zone
        known = harp is not None and not self._shown.sought
        return {
            "harp": harp.key if harp is not None and known else None,
            "name": self._shown.harp or (harp.name if harp is not None else ""),
            "harps": [harp.key for harp in self._setup.harps],
            "place": self._shown.place,
            "root": letter(harp.root_midi) if harp is not None and known else None,
            "root_hz": round(harp.root_hz, 3) if harp is not None and known else None,
            "a4_hz": harp.a4_hz if harp is not None and known else None,
            "position": position_name(harp.position) if harp is not None and known else None,
            "straight": round(zone.straight, 1),
            "minor": zone.minor,
            "target": zone.target,
            "zone_low": zone.zone_low,
            "zone_high": zone.zone_high,
            "zones": [[each.name, each.surface, each.low, each.high] for each in zones_of(zone)],
            "degrees": [list(degree) for degree in self._setup.degrees],
            "exercises": [
                {"name": each.name, "title": each.title, "how": each.how}
                for each in exercises(zone, self._setup.study.near_cents)
            ],
        }

    def now(self) -> Message:
        """The present moment, all but the frame's number and the trail."""
        shown = self._shown
        # What comes in while it does not listen is nobody's business, and nothing old is told either.
        heard, inflection = (shown.heard, shown.inflection) if self._listens else (None, None)
        steady = self._steadiness.median if heard is not None else None
        message: Message = {
            "at": round(shown.point.time_s, 3) if shown.point is not None else 0.0,
            "hz": None,
            "cents": None,
            "octave": 0,
            "note": None,
            "bend": 0.0,
            "blueness": 0.0,
            "lean": 0.0,
            "breath": 0.0,
            "bright": 0.0,
            "clean": 0.0,
            "words": self._without_pitch(),
            "steady": None,
            "shaky": False,
            "armed": shown.armed,
            "sought": shown.sought,
            "lost": shown.lost + shown.unseen,
            "stalled": shown.stalled,
            "held": bool(self.view.get("held")),
            "quiet": self.paused,
        }
        if heard is not None:
            cents = folded(heard.cents)
            degree = inflection.degree if inflection is not None else nearest_degree(cents)
            message |= {
                "hz": round(heard.hz, 2),
                "cents": round(cents, 1),
                "octave": round((heard.cents - cents) / CENTS_PER_OCTAVE),
                "clean": round(heard.clean, 2),
                "words": self._words(cents, degree),
                "steady": None if steady is None else round(folded(steady), 1),
                "shaky": self._steadiness.strays() > self._setup.settings.shaky_cents,
                "note": self._note(),
            }
        if inflection is not None:
            message |= {
                "bend": round(inflection.bend_cents, 1),
                "blueness": round(inflection.blueness, 2),
                "lean": round(inflection.lean, 2),
                "breath": round(inflection.breath, 2),
                "bright": round(inflection.bright, 2),
            }
        return message

    @property
    def _listens(self) -> bool:
        """Whether what comes in is to be shown."""
        return self._shown.armed and not self.paused

    @property
    def armed(self) -> bool:
        """Whether the bridge listens."""
        return self._shown.armed

    @property
    def harp_name(self) -> str | None:
        """The harp in hand in a line; None where nobody knows which it is."""
        harp = self._shown.harp_in_hand
        return None if harp is None or self._shown.sought else self._shown.harp or harp.name

    @property
    def zone(self) -> ThirdZone:
        """The third on the harp in hand."""
        straight = self._shown.straight
        return self._setup.third if straight is None else replace(self._setup.third, straight=straight)

    def _words(self, cents: float, degree: str) -> str:
        """Where the pitch stands."""
        if self._shown.sought:
            return "heard, while the harp is sought"
        return pitch_words(cents, degree, self.zone)

    def _without_pitch(self) -> str:
        """Why no pitch is shown."""
        shown = self._shown
        if shown.stalled:
            return "no sound comes in"
        if self.paused:
            return "a tone sounds"
        if not shown.armed:
            return "not listening"
        sounds = shown.point is not None and shown.point.level_db > SILENCE_DB
        return "a sound, but no harp" if sounds else "listening"

    def _note(self) -> Message | None:
        """The note that sounds, named as what it is now."""
        note, inflection, harp = self._shown.note, self._shown.inflection, self._shown.harp_in_hand
        if note is None or inflection is None:
            return None
        moved = 0 if inflection.degree == note.degree else round(inflection.bend_cents / 100.0)
        reading = self._shown.reading
        return {
            "id": note.note_id,
            "name": note_name(note.midi_note + moved, None if harp is None else harp.root_midi),
            "degree": inflection.degree,
            "midi_note": note.midi_note,
            "tab": "" if reading is None else tab(reading, self._setup.tab),
            "hole": "" if reading is None else in_words(reading),
        }

    def _take_point(self, point: PitchPoint) -> list[Message]:
        """A step of the trail; a rest that is long enough ends the phrase."""
        if point.hz <= 0.0 or not self._listens:
            self._steadiness.clear()
            return self._rest(point.time_s)
        cents = folded(point.cents)
        self._steadiness.add(point.time_s, point.cents)
        if point.time_s >= self._next_step_s or point.time_s < self._next_step_s - _TRAIL_STEP_S:
            self._next_step_s = point.time_s + _TRAIL_STEP_S
            self.trail.add(point.time_s, cents)
            self._phrase.add(point.time_s, cents)
        if self._note_way is not None:
            self._note_way.add(point.time_s, cents, point.clean)
        self._sounded_s = point.time_s
        return []

    def _rest(self, now_s: float) -> list[Message]:
        if self._sounded_s is None or now_s - self._sounded_s < PHRASE_REST_S:
            return []
        notes, trail = self._phrase_notes, rounded(self._phrase.points)
        self._sounded_s, self._phrase_notes, self._phrase = None, [], Way(_PHRASE_POINTS)
        return [{"is": "phrase", "notes": notes, "trail": trail}] if notes else []

    def _take_status(self) -> list[Message]:
        """Tell of the harp when it, or its tuning, has changed."""
        setup = self.setup_message()
        if setup == self._told_setup:
            return []
        self._told_setup = setup
        return [{"is": "setup", "setup": setup}]
