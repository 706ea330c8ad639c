"""Bytes of the MIDI channel messages we send.

Source: MIDI 1.0 Detailed Specification, document version 4.2.1: channel voice and mode messages (tables I to IV) and
registered parameter numbers. Conventions: ``channel`` is 1..16 as musicians count, data bytes are 0..127, 14-bit
values are 0..16383 with 8192 as their centre. A value out of range raises ValueError.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

DATA_MAX = 127
VALUE_MAX = 16383
CENTRE = 8192

#: Controllers with a fixed meaning (MIDI 1.0, table III and mode messages).
DATA_ENTRY_MSB, DATA_ENTRY_LSB = 6, 38
RPN_LSB, RPN_MSB = 100, 101
#: Registered parameters: pitch bend range, and the size of an MPE zone (MPE 1.1, M1-100-UM).
RPN_BEND_RANGE, RPN_ZONE = 0, 6
#: A system real-time message: whoever has heard it once ends its notes when nothing comes for 300 ms (MIDI 1.0).
ACTIVE_SENSING = b"\xfe"
ALL_SOUND_OFF, RESET_CONTROLLERS, ALL_NOTES_OFF = 120, 121, 123
#: A controller below this number is the coarse half of a pair; the fine half lies as many numbers above.
PAIRED_BELOW = 32


class Fact(NamedTuple):
    """Status byte on channel 1 and what the two data bytes are called."""

    status: int
    first: str
    second: str


class Kind(Enum):
    """The channel messages we send: from these facts come encoding, checks and the words of the errors."""

    NOTE_OFF = Fact(0x80, "note", "velocity")
    NOTE_ON = Fact(0x90, "note", "velocity")
    CONTROL = Fact(0xB0, "controller", "value")
    PRESSURE = Fact(0xD0, "pressure", "")
    BEND = Fact(0xE0, "low seven bits", "high seven bits")


def message(kind: Kind, channel: int, first: int, second: int) -> bytes:
    """The three bytes of a channel message; raises ValueError that names what is out of range."""
    fact = kind.value
    if not 1 <= channel <= 16:
        raise ValueError(f"MIDI channel {channel} is not in 1..16")
    for what, value in ((fact.first, first), (fact.second, second)):
        if not 0 <= value <= DATA_MAX:
            raise ValueError(f"MIDI {what} {value} is not in 0..{DATA_MAX}")
    return bytes((fact.status | channel - 1, first, second))


def note_on(channel: int, note: int, velocity: int) -> bytes:
    """Note On; velocity 1..127, because a Note On of velocity 0 is a Note Off."""
    if velocity == 0:
        raise ValueError("MIDI velocity 0 would be a Note Off")
    return message(Kind.NOTE_ON, channel, note, velocity)


def note_off(channel: int, note: int) -> bytes:
    """Note Off with the release velocity 64 that stands for "not measured"."""
    return message(Kind.NOTE_OFF, channel, note, 64)


def is_note_off(data: bytes) -> bool:
    """Whether these bytes are a Note Off of :func:`note_off`."""
    return data[0] & 0xF0 == Kind.NOTE_OFF.value.status


def is_note_on(data: bytes) -> bool:
    """Whether these bytes are a Note On of :func:`note_on`."""
    return data[0] & 0xF0 == Kind.NOTE_ON.value.status


def control(channel: int, controller: int, value: int) -> bytes:
    """Control change with 7 bits."""
    return message(Kind.CONTROL, channel, controller, value)


def control_pair(channel: int, controller: int, value: int) -> tuple[bytes, bytes]:
    """Control change with 14 bits, coarse half first, because it resets the fine one; controller 0..31."""
    if not 0 <= controller < PAIRED_BELOW:
        raise ValueError(f"MIDI controller {controller} has no fine half: only 0..{PAIRED_BELOW - 1} have one")
    return (
        control(channel, controller, value >> 7),
        control(channel, controller + PAIRED_BELOW, value & DATA_MAX),
    )


def bend(channel: int, value: int) -> bytes:
    """Pitch bend, 0..16383, centre 8192: low seven bits, then high."""
    return message(Kind.BEND, channel, value & DATA_MAX, value >> 7)


def pressure(channel: int, value: int) -> bytes:
    """Channel pressure, two bytes."""
    return message(Kind.PRESSURE, channel, value, 0)[:2]


def bend_range(channel: int, semitones: int) -> tuple[bytes, ...]:
    """RPN 0, the pitch bend range each way: whole semitones, with 0 cents."""
    return (*_parameter(channel, RPN_BEND_RANGE, semitones), control(channel, DATA_ENTRY_LSB, 0))


def lower_zone(members: int) -> tuple[bytes, ...]:
    """RPN 6 on channel 1: the MPE lower zone with that many member channels, 1..15 (MPE 1.1, M1-100-UM)."""
    return _parameter(1, RPN_ZONE, members)


def _parameter(channel: int, number: int, value: int) -> tuple[bytes, ...]:
    """A registered parameter in the order CC 101, 100, 6."""
    return (
        control(channel, RPN_MSB, 0),
        control(channel, RPN_LSB, number),
        control(channel, DATA_ENTRY_MSB, value),
    )
