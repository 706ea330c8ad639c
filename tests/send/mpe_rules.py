"""A reader of MIDI streams that knows the standards and nothing of our encoder: it tells every rule that is broken.

Sources: MIDI 1.0 Detailed Specification 4.2.1 (*MIDI*: table III controllers and registered parameters, mode messages)
and MIDI Polyphonic Expression 1.1, M1-100-UM (*MPE*), both from memory of their texts; the rules stand in
``shared/facts.md`` of the project too. Channels are counted from 1. What may stand on a member is from a published
account of MPE 1.0, section 2.3, table 1: bend, channel pressure and controller 74 are of a note; other controllers are
"not recommended" to send there, and nobody may expect an answer to them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

#: Bytes of each kind of channel message (MIDI, table I).
LENGTHS = {0x80: 3, 0x90: 3, 0xA0: 3, 0xB0: 3, 0xC0: 2, 0xD0: 2, 0xE0: 3}
MANAGER = 1
#: What a receiver assumes for a zone until it is told otherwise, semitones (MPE).
USUAL_RANGE, USUAL_MANAGER_RANGE = 48, 2


@dataclass
class Zone:
    """What a receiver knows so far."""

    members: int = 0
    ranges: dict[int, int] = field(default_factory=dict)
    sounding: dict[int, int] = field(default_factory=dict)
    ended_at: dict[int, int] = field(default_factory=dict)
    parameter: dict[int, tuple[int | None, int | None]] = field(default_factory=dict)
    coarse: dict[tuple[int, int], int] = field(default_factory=dict)
    given: dict[int, set[str]] = field(default_factory=dict)
    count: int = 0
    breath: int | None = None

    def is_breath(self, number: int) -> bool:
        """Whether it is the controller of the breath, or (MIDI, table III) its fine half."""
        return self.breath is not None and number in {self.breath, self.breath + 32}


def broken_rules(
    stream: Iterable[bytes], *, range_wanted: int = USUAL_RANGE, at_end: bool = True, breath: int | None = None
) -> list[str]:
    """The rules that the messages of a lower zone break, each in words, in order; none for a stream that keeps all.

    ``range_wanted`` is the bend range meant for the members, ``at_end`` whether no note may sound after the last one.
    ``breath`` is a controller that its user wants on members although MPE recommends against it, in the place of
    channel pressure.
    """
    zone = Zone(breath=breath)
    broken: list[str] = []
    for data in stream:
        zone.count += 1
        broken += [f"message {zone.count}: {what}" for what in _hear(zone, data, range_wanted)]
    if at_end and zone.sounding:
        broken.append(f"still sounding at the end: {zone.sounding}")
    return broken


def _hear(zone: Zone, data: bytes, range_wanted: int) -> Iterator[str]:
    kind, channel = data[0] & 0xF0, (data[0] & 0x0F) + 1
    # MIDI: a status byte and as many data bytes below 128 as its kind has.
    if kind not in LENGTHS or len(data) != LENGTHS[kind] or max(data[1:]) > 127:
        yield f"{data.hex(' ')} is no channel message"
        return
    # MPE: a zone is the manager and the members beside it; other channels are not in it.
    if channel != MANAGER and not MANAGER < channel <= MANAGER + zone.members:
        yield f"channel {channel} is not in the zone"
    rules: dict[int, Callable[[Zone, int, bytes, int], Iterator[str]]] = {
        0x80: _note_off,
        0x90: _note_on,
        0xA0: _poly_pressure,
        0xB0: _control,
        0xD0: _pressure,
        0xE0: _bend,
    }
    if kind in rules:
        yield from rules[kind](zone, channel, data, range_wanted)


def _note_on(zone: Zone, channel: int, data: bytes, range_wanted: int) -> Iterator[str]:
    if data[2] == 0:
        # MIDI: a Note On of velocity 0 is a Note Off.
        yield from _note_off(zone, channel, data, range_wanted)
        return
    # MPE: notes sound on members; what is played on the manager has no values of its own.
    if channel == MANAGER:
        yield "a note on the manager channel"
    # MPE: bend ranges of the manager and of every member as meant, before the first note.
    if zone.ranges.get(MANAGER) != USUAL_MANAGER_RANGE:
        yield f"the manager bends {zone.ranges.get(MANAGER)} semitones"
    for member in range(MANAGER + 1, MANAGER + 1 + zone.members):
        if zone.ranges.get(member, USUAL_RANGE) != range_wanted:
            yield f"member {member} bends {zone.ranges.get(member, USUAL_RANGE)} semitones, not {range_wanted}"
    # MPE: the member with the fewest notes ...
    if channel in zone.sounding:
        yield f"a second note on channel {channel}, which still sounds"
    idle = [member for member in range(2, 2 + zone.members) if member not in zone.sounding]
    # ... and of those the one that was released longest ago.
    if channel in idle and any(zone.ended_at.get(member, 0) < zone.ended_at.get(channel, 0) for member in idle):
        yield f"channel {channel} was released later than another that is idle"
    # MPE: the values that a note begins with go out before its Note On.
    own = {"bend", "pressure" if zone.breath is None else "breath", "bright"}
    if missing := own - zone.given.get(channel, set()):
        yield f"a note without its own {', '.join(sorted(missing))} before it"
    zone.sounding[channel] = data[1]


def _note_off(zone: Zone, channel: int, data: bytes, range_wanted: int) -> Iterator[str]:
    del range_wanted
    # MIDI: a Note Off names the note that it ends.
    if zone.sounding.get(channel) != data[1]:
        yield f"a Note Off of {data[1]} on channel {channel}, where {zone.sounding.get(channel)} sounds"
    zone.sounding.pop(channel, None)
    zone.ended_at[channel] = zone.count
    zone.given[channel] = set()


def _poly_pressure(zone: Zone, channel: int, data: bytes, range_wanted: int) -> Iterator[str]:
    del zone, data, range_wanted
    # MPE: pressure of a member is channel pressure; polyphonic key pressure must not be sent there.
    yield f"polyphonic pressure on channel {channel}"


def _pressure(zone: Zone, channel: int, data: bytes, range_wanted: int) -> Iterator[str]:
    del data, range_wanted
    zone.given.setdefault(channel, set()).add("pressure")
    if channel == MANAGER:
        yield "pressure of a note on the manager channel"
    if zone.breath is not None:
        yield "pressure beside the controller that was to carry it"


def _bend(zone: Zone, channel: int, data: bytes, range_wanted: int) -> Iterator[str]:
    del data, range_wanted
    zone.given.setdefault(channel, set()).add("bend")
    # MPE: a bend of the manager moves every note on top of its own.
    if channel == MANAGER:
        yield "a bend of the whole zone"


def _control(zone: Zone, channel: int, data: bytes, range_wanted: int) -> Iterator[str]:
    del range_wanted
    number, value = data[1], data[2]
    if number in (101, 100, 6, 38):
        yield from _parameter(zone, channel, number, value)
        return
    if number == 74:
        zone.given.setdefault(channel, set()).add("bright")
    elif channel != MANAGER and number < 120 and not zone.is_breath(number):
        # MPE: what is no value of a note goes to the manager.
        yield f"controller {number} on member {channel}"
    elif channel == MANAGER and zone.is_breath(number):
        yield "the breath of a note on the manager channel"
    if number == zone.breath:
        zone.given.setdefault(channel, set()).add("breath")
    if number < 32:
        zone.coarse[channel, number] = zone.count
    elif number < 64 and (channel, number - 32) not in zone.coarse:
        # MIDI: the coarse half of a pair first, since it sets the fine one to 0.
        yield f"fine half {number} without its coarse half"
    elif number in (120, 123):
        zone.sounding.pop(channel, None)


def _parameter(zone: Zone, channel: int, number: int, value: int) -> Iterator[str]:
    # MIDI: a registered parameter is chosen by 101 and 100, then set by 6 and 38.
    chosen = zone.parameter.get(channel, (None, None))
    if number == 101:
        zone.parameter[channel] = (value, None)
    elif number == 100:
        if chosen[0] is None:
            yield "controller 100 before 101"
        zone.parameter[channel] = (chosen[0], value)
    elif number == 6:
        yield from _set(zone, channel, value)
    elif chosen != (0, 0):
        yield "fine data entry for no parameter"


def _set(zone: Zone, channel: int, value: int) -> Iterator[str]:
    match zone.parameter.get(channel):
        case (0, 6):
            # MPE: the zone is opened on its manager, 1 to 15 members, while nothing sounds; ranges are then the usual.
            if channel != MANAGER or not 1 <= value <= 15:
                yield f"a lower zone of {value} members on channel {channel}"
            if zone.sounding:
                yield "the zone is opened while a note sounds"
            zone.members = value
            zone.ranges = {MANAGER: USUAL_MANAGER_RANGE}
        case (0, 0):
            # MPE: a bend range is set after the zone, since the zone sets it back.
            if zone.members == 0:
                yield "a bend range before the zone"
            zone.ranges[channel] = value
        case other:
            yield f"data entry for parameter {other}"
