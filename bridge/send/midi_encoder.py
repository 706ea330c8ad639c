"""Events -> MIDI messages on one channel or in an MPE zone. Pure: no clock, no port.

Wire order of a note: Note Off of the last, bend, breath, brightness, blueness, lean, Note On. A value that has not
changed is not repeated, but a note in a zone begins with all of its own, since its channel had another one before.
Whatever comes in, one note sounds at a time and every Note On gets its Note Off. An event changes nothing here before
all its messages are made, so that one which cannot be encoded leaves what sounds still to be ended.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import get_args

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.base.units import clip
from bridge.send import midi_messages as midi
from bridge.send.members import MANAGER_BEND_RANGE, Channels
from bridge.send.midi_settings import MidiSettings, Thinned
from bridge.send.pitch import SentPitch


class Lane(IntEnum):
    """What shares a port's bytes, first served first."""

    NOTES = 0
    BEND = 1
    BREATH = 2
    BLUENESS = 3
    LEAN = 4
    BRIGHT = 5


#: The order in which the values of one instant stand on the wire.
WIRE_ORDER = (Lane.BEND, Lane.BREATH, Lane.BRIGHT, Lane.BLUENESS, Lane.LEAN)
#: The lane of each value by the name that the settings have for it.
LANES: dict[Thinned, Lane] = {name: Lane[name.upper()] for name in get_args(Thinned)}
#: Values of a note; the others belong to the player, whatever note sounds.
_OF_A_NOTE = frozenset({Lane.BEND, Lane.BREATH, Lane.BRIGHT})
#: Where a value belongs: its channel (1..16) and its lane.
_Place = tuple[int, Lane]


@dataclass(frozen=True, slots=True)
class Outgoing:
    """Messages of one channel that belong together: notes all count, of the other lanes only the last value does.

    ``at_once`` is a value that may not wait for its turn.
    """

    lane: Lane
    messages: tuple[bytes, ...]
    at_once: bool = False

    @property
    def place(self) -> tuple[Lane, int]:
        """Lane and channel (0..15): a newer value of the same place replaces one that waits."""
        return self.lane, self.messages[0][0] & 0x0F


@dataclass(frozen=True, slots=True)
class _Sounding:
    """The note that sounds: its id and its number."""

    note_id: int
    note: int


class MidiEncoder:
    """Turns events into messages; call :meth:`opening` first and after each reconnection."""

    def __init__(self, settings: MidiSettings, pitch: SentPitch) -> None:
        self._pitch = pitch
        self._channels = Channels(settings)
        self._members = settings.members
        self._bend_range = settings.sent_bend_range
        self._range_cents = 100.0 * self._bend_range
        self._lanes = tuple(LANES[name] for name in settings.values)
        self._controllers: dict[Lane, int] = {LANES[name]: number for name, number in settings.controllers.items()}
        if settings.breath_is_pressure:
            self._controllers.pop(Lane.BREATH, None)
        self._fine = frozenset(LANES[name] for name in settings.values if settings.is_fine(name))
        self._last: dict[_Place, int] = {}
        #: Where a note sounds, or has sounded last; the first one comes after the last member.
        self._channel = self._channels.members[-1]
        self._sounding: _Sounding | None = None

    @property
    def sounds(self) -> bool:
        """Whether a note is known to sound."""
        return self._sounding is not None

    def opening(self) -> list[Outgoing]:
        """The zone as RPN 6 if there is one, then bend ranges as RPN 0; every value counts as not yet sent."""
        opened = [_notes(midi.bend_range(channel, self._bend_range)) for channel in self._channels.members]
        if self._channels.is_zone:
            # The zone first, since it sets the ranges of its channels to what is usual.
            zone = (*midi.lower_zone(self._members), *midi.bend_range(self._channels.manager, MANAGER_BEND_RANGE))
            opened.insert(0, _notes(zone))
        self._last.clear()
        return opened

    def encode(self, event: Event) -> list[Outgoing]:
        """What an event puts on the wire, in wire order; an event of a note that does not sound puts nothing."""
        match event:
            case NoteOn():
                return self._begin(event)
            case Inflection() if self._sounding is not None and event.note_id == self._sounding.note_id:
                return self._move(event)
            case NoteOff() if self._sounding is not None and event.note_id == self._sounding.note_id:
                return self.release()
            case _:
                return []

    def release(self) -> list[Outgoing]:
        """The Note Off of what is known to sound."""
        ended = self._end()
        self._sounding = None
        return ended

    def panic(self) -> list[Outgoing]:
        """Note Off of what sounds first, because 123 may be ignored, then 123, 120 and the bend to its centre."""
        silence = [
            _notes((midi.control(channel, midi.ALL_NOTES_OFF, 0), midi.control(channel, midi.ALL_SOUND_OFF, 0)))
            for channel in self._channels.all
        ]
        members = self._channels.members
        centres = [Outgoing(Lane.BEND, (midi.bend(channel, midi.CENTRE),)) for channel in members]
        ended = self.release()
        # Every other value counts as not yet sent, since a port may have held it.
        self._last = {(channel, Lane.BEND): midi.CENTRE for channel in members}
        return [*ended, *silence, *centres]

    def finish(self) -> list[Outgoing]:
        """Leave the channels silent and as others expect them: as :meth:`panic`, then controllers reset (CC 121)."""
        resets = tuple(midi.control(channel, midi.RESET_CONTROLLERS, 0) for channel in self._channels.all)
        return [*self.panic(), _notes(resets)]

    def _begin(self, event: NoteOn) -> list[Outgoing]:
        channel = self._channels.after(self._channel)
        # In a zone every note begins with all of its own, and whatever the budget, none of it after its Note On.
        own = _OF_A_NOTE if self._channels.is_zone else frozenset[Lane]()
        changed = self._changed(event.inflection, channel, own)
        velocity = max(1, round(clip(event.velocity, 0.0, 1.0) * midi.DATA_MAX))
        begun = _notes((midi.note_on(channel, event.midi_note, velocity),))
        items = [*self._end(), *self._items(changed, own), begun]
        self._last |= changed
        self._channel = channel
        self._sounding = _Sounding(event.note_id, event.midi_note)
        return items

    def _move(self, inflection: Inflection) -> list[Outgoing]:
        changed = self._changed(inflection, self._channel)
        items = self._items(changed)
        self._last |= changed
        return items

    def _end(self) -> list[Outgoing]:
        """The Note Off of what is known to sound, which goes on being known."""
        if self._sounding is None:
            return []
        return [_notes((midi.note_off(self._channel, self._sounding.note),))]

    def _changed(self, inflection: Inflection, channel: int, anew: frozenset[Lane] = frozenset()) -> dict[_Place, int]:
        """The values that places do not have yet, in wire order, and those of ``anew`` in any case."""
        bend = centred(self._pitch.cents(inflection.bend_cents) / self._range_cents, bits=14)
        changed = {}
        if Lane.BEND in anew or self._last.get((channel, Lane.BEND)) != bend:
            changed[channel, Lane.BEND] = bend
        for lane in self._lanes:
            place = (channel if lane in _OF_A_NOTE else self._channels.manager, lane)
            value = _level(inflection, lane, bits=14 if lane in self._fine else 7)
            if lane in anew or self._last.get(place) != value:
                changed[place] = value
        return changed

    def _items(self, changed: dict[_Place, int], at_once: frozenset[Lane] = frozenset()) -> list[Outgoing]:
        return [
            Outgoing(lane, self._messages(channel, lane, value), lane in at_once)
            for (channel, lane), value in changed.items()
        ]

    def _messages(self, channel: int, lane: Lane, value: int) -> tuple[bytes, ...]:
        if lane is Lane.BEND:
            return (midi.bend(channel, value),)
        number = self._controllers.get(lane)
        if number is None:
            return (midi.pressure(channel, value),)
        if lane in self._fine:
            return midi.control_pair(channel, number, value)
        return (midi.control(channel, number, value),)


def centred(value: float, bits: int) -> int:
    """-1..+1 on a scale whose centre is exact (64 of 127, 8192 of 16383); beyond is clipped."""
    half = 1 << (bits - 1)
    return min(half + round(clip(value, -1.0, 1.0) * half), 2 * half - 1)


def _level(inflection: Inflection, lane: Lane, bits: int) -> int:
    """The value of one controller lane with that many bits."""
    match lane:
        case Lane.LEAN:
            return centred(inflection.lean, bits)
        case Lane.BREATH:
            value = inflection.breath
        case Lane.BLUENESS:
            value = inflection.blueness
        case _:
            value = inflection.bright
    return round(clip(value, 0.0, 1.0) * ((1 << bits) - 1))


def _notes(messages: tuple[bytes, ...]) -> Outgoing:
    return Outgoing(Lane.NOTES, messages)
