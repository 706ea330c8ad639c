"""Events -> MIDI messages on one channel. Pure: no clock, no port.

Wire order of a note: Note Off of the last, bend, breath, brightness, blueness, lean, Note On. A value that has not
changed is not repeated. Whatever comes in, one note sounds at a time and every Note On gets its Note Off.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.base.units import clip
from bridge.send import midi_messages as midi
from bridge.send.pitch import SentPitch
from bridge.send.settings import MidiSettings


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


@dataclass(frozen=True, slots=True)
class Outgoing:
    """Messages that belong together: notes all count, of the other lanes only the last value does."""

    lane: Lane
    messages: tuple[bytes, ...]


class MidiEncoder:
    """Turns events into messages; call :meth:`opening` first and after each reconnection."""

    def __init__(self, settings: MidiSettings, pitch: SentPitch) -> None:
        self._settings = settings
        self._pitch = pitch
        self._range_cents = 100.0 * settings.bend_range
        self._controllers = {
            lane: number
            for lane, number in (
                (Lane.BREATH, settings.breath),
                (Lane.BRIGHT, settings.bright),
                (Lane.BLUENESS, settings.blueness),
                (Lane.LEAN, settings.lean),
            )
            if number is not None
        }
        self._last: dict[Lane, int] = {}
        self._sounding: tuple[int, int] | None = None

    def opening(self) -> list[Outgoing]:
        """The bend range as RPN 0; from here on every value counts as not yet sent."""
        self._last.clear()
        return [_notes(midi.bend_range(self._settings.channel, self._settings.bend_range))]

    def encode(self, event: Event) -> list[Outgoing]:
        """What an event puts on the wire, in wire order; an event of a note that does not sound puts nothing."""
        match event:
            case NoteOn():
                return self._begin(event)
            case Inflection() if self._sounding is not None and event.note_id == self._sounding[0]:
                return self._values(event)
            case NoteOff() if self._sounding is not None and event.note_id == self._sounding[0]:
                return self.release()
            case _:
                return []

    def release(self) -> list[Outgoing]:
        """The Note Off of what is known to sound."""
        if self._sounding is None:
            return []
        _, note = self._sounding
        self._sounding = None
        return [_notes((midi.note_off(self._settings.channel, note),))]

    def panic(self) -> list[Outgoing]:
        """Note Off of what sounds first, because 123 may be ignored, then 123, 120 and the bend to its centre."""
        channel = self._settings.channel
        silence = (midi.control(channel, midi.ALL_NOTES_OFF, 0), midi.control(channel, midi.ALL_SOUND_OFF, 0))
        return [*self.release(), _notes(silence), self._centre()]

    def finish(self) -> list[Outgoing]:
        """Leave the channel as others expect it: Note Off, bend to its centre, controllers reset (CC 121)."""
        reset = midi.control(self._settings.channel, midi.RESET_CONTROLLERS, 0)
        return [*self.release(), self._centre(), _notes((reset,))]

    def _begin(self, event: NoteOn) -> list[Outgoing]:
        ended = self.release()
        values = self._values(event.inflection)
        velocity = max(1, round(clip(event.velocity, 0.0, 1.0) * midi.DATA_MAX))
        begun = midi.note_on(self._settings.channel, event.midi_note, velocity)
        self._sounding = (event.note_id, event.midi_note)
        return [*ended, *values, _notes((begun,))]

    def _values(self, inflection: Inflection) -> list[Outgoing]:
        """The values that changed."""
        changed = []
        channel = self._settings.channel
        bend = centred(self._pitch.cents(inflection.bend_cents) / self._range_cents, bits=14)
        if self._last.get(Lane.BEND) != bend:
            self._last[Lane.BEND] = bend
            changed.append(Outgoing(Lane.BEND, (midi.bend(channel, bend),)))
        for lane, number in self._controllers.items():
            paired = self._settings.fourteen_bit and number < midi.PAIRED_BELOW
            value = _level(inflection, lane, bits=14 if paired else 7)
            if self._last.get(lane) == value:
                continue
            self._last[lane] = value
            messages = midi.control_pair(channel, number, value) if paired else (midi.control(channel, number, value),)
            changed.append(Outgoing(lane, messages))
        return changed

    def _centre(self) -> Outgoing:
        """The bend at its centre; every other value then counts as not yet sent, since a port may have held it."""
        self._last = {Lane.BEND: midi.CENTRE}
        return Outgoing(Lane.BEND, (midi.bend(self._settings.channel, midi.CENTRE),))


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
