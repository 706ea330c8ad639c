"""Frames to notes and inflections. A note is one gesture, however far it glides."""

from __future__ import annotations

import math

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchFrame, PitchPoint
from bridge.base.units import CENTS_PER_OCTAVE, SILENCE_DB, clip
from bridge.quantise.holding import Holding
from bridge.quantise.motion import PitchMotion
from bridge.quantise.onset import Onset
from bridge.quantise.root import Root
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.slots import Place, Scale
from bridge.quantise.third import blue_zones, blueness, lean, with_third

_MIDI_TOP = 127
_CENTS_PER_SEMITONE = 100.0
#: Where a reed comes out from under a noise, two or three of its periods may be taken for one; within this, cents.
_SAME_CENTS = 30.0
_TIMES = (2, 3)
#: In a note younger than this, in seconds, they are believed: of an octave the upper reed, being the smaller, speaks
#: first.
_YOUNG_S = 0.06
#: A note that begins this soon after another may be the same one struck again, in seconds.
_STRUCK_AGAIN_S = 0.1
#: A pitch that neither stays with its note nor settles elsewhere for so long is no reed's, in seconds; a change of hole
#: settles in a third of it, in a room in two thirds.
_LONGEST_DOUBT_S = 0.08
_NEVER = -math.inf


class Quantiser:
    """Turns frames into events, one frame at a time.

    ``root_hz`` is the pitch of the root and ``root_midi`` its MIDI note; a bend beyond ``bend_range_cents`` goes over
    to the nearest slot as a new note. What ``settings`` leave to the harp is as in equal temperament. Frames should
    come in stream order; a time that goes back is held at the last one, and a frame with an undefined pitch or level
    is silence. Not safe to share between threads.
    """

    def __init__(
        self, scale: Scale, *, root_hz: float, root_midi: int, settings: QuantiseSettings, bend_range_cents: float
    ) -> None:
        self._plain_scale = scale
        self.take_harp(root_hz=root_hz, root_midi=root_midi, settings=settings, bend_range_cents=bend_range_cents)
        self._split = settings.glide == "split"
        self._split_margin = settings.split.margin_cents
        self._split_hold_s = settings.split.hold_ms / 1000.0
        self._arrival_s = settings.onset.arrival_ms / 1000.0
        self._attack_memory_s = settings.onset.attack_memory_ms / 1000.0
        self._restrike_guard_s = settings.onset.restrike_guard_ms / 1000.0
        self._velocity = None if isinstance(settings.velocity, str) else settings.velocity / _MIDI_TOP
        self._motion = PitchMotion(settings.jump)
        self._time = self._ready = self._hz = 0.0
        self._last_id = 0
        self._sounds = False
        # Of the note that sounds.
        self._anchor = 0.0
        self._holding = Holding(settings.dropout)
        self._last_cents = 0.0
        self._ended = _NEVER
        self._tail_db = settings.dropout.tail_db
        self._tail_s = settings.dropout.tail_ms / 1000.0
        self._jump_cents = settings.jump.cents
        self._outside_since: float | None = None
        self._arrives_by = _NEVER
        # Of the sound that may become a note.
        self._attack = _NEVER
        self._spoke: float | None = None
        self._speaking = Holding(settings.dropout)
        #: When its pitch was first heard; of the note that sounds, if there is one.
        self._heard = 0.0
        self._several = False

    def take_harp(self, *, root_hz: float, root_midi: int, settings: QuantiseSettings, bend_range_cents: float) -> None:
        """Go on with another harp; end what sounds first (:meth:`finish`).

        Of ``settings`` the zones, the third in the scale, the beginning of notes and the breath count anew; the rest
        is that of the first ones.
        """
        self._root = Root(root_hz, bend_range_cents)
        self._root_midi = root_midi
        self._zones = blue_zones(settings)
        self._scale = with_third(self._plain_scale, self._zones["3"].straight)
        self._note_place = self._degree_place = self._scale.place(0.0)
        self._onset = Onset(settings.onset, self._scale)
        floor_db, ceiling_db = settings.breath.marks_db()
        self._breath_per_db = 1.0 / (ceiling_db - floor_db)
        self._breath_at_full = -floor_db * self._breath_per_db
        if settings.breath.constant is not None:
            self._breath_per_db, self._breath_at_full = 0.0, settings.breath.constant

    def tune(self, *, root_hz: float, bend_range_cents: float) -> bool:
        """The same harp at another pitch: at once (True), or after the end of what sounds or is about to."""
        self._root.tune(root_hz, bend_range_cents)
        if self._sounds or self._spoke is not None:
            return False
        self._root.go_on()
        return True

    def step(self, frame: PitchFrame) -> list[Event]:
        """The events of one frame: always one PitchPoint first, then what ends, begins or moves.

        ``ready_s`` never goes back from event to event, nor does ``time_s`` among the points or among the rest. While
        a note sounds each frame gives one Inflection, except where the pitch is missing or still in doubt.
        """
        elapsed = self._advance(frame.time_s, frame.ready_s)
        hz = cents = 0.0
        level = SILENCE_DB
        if math.isfinite(frame.level_db):
            level = max(frame.level_db, SILENCE_DB)
            if 0.0 < frame.hz < math.inf:
                hz = self._hz = frame.hz
                cents = self._root.cents(hz)
        clean = clip(frame.clean, 0.0, 1.0)
        self._several = frame.reeds > 1
        events: list[Event] = [PitchPoint(self._time, self._ready, hz, cents, level, clean)]
        if self._sounds:
            self._holding.listen(self._time, level, elapsed)
        if frame.attack:
            self._strike(events)
        if self._sounds:
            if hz and not self._may_be_hidden(cents):
                self._go_on(cents, level, frame.bright, clip(frame.confidence, 0.0, 1.0), events)
            else:
                self._fall_silent(level, clean, events)
        elif hz:
            self._speak(self._root.cents(hz), level, frame.bright, events)
        elif self._spoke is not None and self._speaking.lose(self._time, level):
            self._spoke = None
        return events

    def finish(self, time_s: float, ready_s: float) -> list[Event]:
        """End what sounds at ``time_s``; the quantiser can then go on with other frames."""
        self._advance(time_s, ready_s)
        events: list[Event] = []
        if self._sounds:
            self._end(self._time, events)
        self._spoke = None
        self._attack = self._ended = _NEVER
        return events

    def _advance(self, time_s: float, ready_s: float) -> float:
        """Set the clocks, never back, and return the seconds passed."""
        before = self._time
        if before < time_s < math.inf:
            self._time = time_s
        if self._ready < ready_s < math.inf:
            self._ready = ready_s
        self._ready = max(self._ready, self._time)
        return self._time - before

    def _strike(self, events: list[Event]) -> None:
        """A fresh attack: ends the note, unless it is the very attack that began it or a knock that stopped no reed."""
        if self._time - (self._heard if self._sounds else self._attack) < self._restrike_guard_s:
            return
        if self._sounds and not self._holding.is_struck(self._time):
            return
        self._attack = self._time
        self._spoke = None
        if self._sounds:
            self._end(self._time, events)

    def _speak(self, cents: float, level: float, bright: float, events: list[Event]) -> None:
        """Nothing sounds yet: begin once it is sure for which slot the pitch is heading."""
        if self._is_tail(cents, level):
            return
        time = self._time
        if self._spoke is None:
            remembered = time - self._attack <= self._attack_memory_s
            self._spoke = self._attack if remembered else time
            self._heard = time
            self._speaking.begin(level)
            self._onset.begin(time, self._spoke)
        self._speaking.hear(level)
        last = self._note_place if time - self._ended < _STRUCK_AGAIN_S else None
        heading = self._onset.feed(time, cents, level, last, several=self._several)
        if heading is not None:
            self._begin(self._spoke, cents, level, bright, events, heading)

    def _is_tail(self, cents: float, level: float) -> bool:
        """Whether this is only the last note dying away in the room: its pitch, far softer, and no attack since."""
        return (
            self._attack == _NEVER
            and self._time - self._ended < self._tail_s
            and abs(cents - self._last_cents) < self._jump_cents
            and level < self._holding.loud_db - self._tail_db
        )

    def _go_on(self, cents: float, level: float, bright: float, confidence: float, events: list[Event]) -> None:
        """A note sounds and so does this frame: the same note, or one on another hole or slot."""
        motion = self._motion.move(self._time, cents, confidence)
        if self._holding.hidden and motion != "glides":
            # Another reed has begun under the noise: heard from its own beginning on.
            self._end(self._time, events)
            self._speak(self._root.cents(self._hz), level, bright, events)
            return
        if motion == "doubtful":
            if self._time - self._motion.left_s >= _LONGEST_DOUBT_S:
                self._end(self._motion.left_s, events)
            return
        if motion == "jumped":
            self._turn(self._motion.left_s, level, bright, events)
            return
        self._holding.hear(level)
        if self._leaves(cents):
            self._turn(self._time, level, bright, events)
        else:
            events.append(self._inflection(cents, level, bright))

    def _fall_silent(self, level: float, clean: float, events: list[Event]) -> None:
        """A note sounds but this frame has no pitch: the end, or a moment in which something hides it."""
        if self._holding.lose(self._time, level, clean):
            self._end(self._time, events)

    def _may_be_hidden(self, cents: float) -> bool:
        """Whether the pitch was lost and this is what two or three periods of the note would be taken for."""
        if self._time - self._heard < _YOUNG_S:
            return False
        down = self._last_cents - cents
        return self._holding.lost_since is not None and any(
            abs(down - CENTS_PER_OCTAVE * math.log2(times)) < _SAME_CENTS for times in _TIMES
        )

    def _leaves(self, cents: float) -> bool:
        """Whether the glide has left what its note can hold, so that another must take over."""
        if not self._split:
            bend = abs(cents - self._anchor)
            return bend > self._root.bend_range_cents and abs(cents - self._slot_for(cents).anchor) < bend
        if self._note_place.keeps(cents, self._split_margin):
            self._outside_since = None
            return False
        if self._outside_since is None:
            self._outside_since = self._time
        return self._time - self._outside_since >= self._split_hold_s

    def _slot_for(self, cents: float) -> Place:
        """Where a note at ``cents`` begins: the slot that holds it, or the nearest when that needs too wide a bend."""
        place = self._scale.place(cents)
        if self._split or abs(cents - place.anchor) <= self._root.bend_range_cents:
            return place
        return self._scale.nearest(cents)

    def _turn(self, time_s: float, level: float, bright: float, events: list[Event]) -> None:
        """Legato: one note ends and the next begins at the same instant."""
        self._holding.lost_since = None
        self._heard = time_s
        self._end(time_s, events)
        cents = self._root.cents(self._hz)
        self._begin(time_s, cents, level, bright, events, cents)

    def _begin(
        self, time_s: float, cents: float, level: float, bright: float, events: list[Event], heading: float
    ) -> None:
        """Begin a note that is at ``cents`` in the slot it is heading for."""
        self._last_id += 1
        self._sounds = True
        self._note_place = self._slot_for(heading)
        self._anchor = self._note_place.anchor
        self._degree_place = self._scale.place(heading)
        self._arrives_by = self._time + self._arrival_s
        self._holding.begin(level)
        self._outside_since = self._spoke = None
        self._attack = _NEVER
        self._motion.begin(self._time, cents)
        note = self._root_midi + round(self._anchor / _CENTS_PER_SEMITONE)
        start = self._inflection(cents, level, bright)
        velocity = max(1.0 / _MIDI_TOP, start.breath) if self._velocity is None else self._velocity
        midi_note = min(max(note, 0), _MIDI_TOP)
        events.append(NoteOn(self._last_id, time_s, self._ready, midi_note, velocity, start))

    def _end(self, time_s: float, events: list[Event]) -> None:
        """End the note at ``time_s``, or where its pitch was lost if that is earlier."""
        self._sounds = False
        lost_since = self._holding.lost_since
        ended = time_s if lost_since is None else lost_since
        self._ended = ended
        events.append(NoteOff(self._last_id, ended, self._ready))
        self._root.go_on()

    def _inflection(self, cents: float, level: float, bright: float) -> Inflection:
        self._last_cents = cents
        if self._degree_place.keeps(cents):
            self._arrives_by = _NEVER
        elif self._time > self._arrives_by:
            self._degree_place = self._scale.place(cents)
        degree = self._degree_place.slot.degree
        zone = self._zones.get(degree)
        return Inflection(
            self._last_id,
            self._time,
            self._ready,
            cents - self._anchor,
            degree,
            blueness(cents, zone) if zone else 0.0,
            lean(cents, zone) if zone else 0.0,
            clip(self._breath_at_full + level * self._breath_per_db, 0.0, 1.0),
            clip(bright, 0.0, 1.0),
        )
