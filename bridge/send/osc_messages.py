"""Events -> OSC messages of the contract. Pure.

Source of the bytes: OpenSound Control Specification 1.0 (python-osc builds them). Conventions: plain messages of core
types only; the leading ``i`` is stream time in milliseconds; bends are cents above the MIDI note as they are to sound,
levels dBFS, all else 0..1 but lean, -1..+1.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from pythonosc.osc_message_builder import OscMessageBuilder

from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint
from bridge.send.catalogue import OscForm, catalogue
from bridge.send.pitch import SentPitch

_FORMS = catalogue().osc_out
INT_MIN, INT_MAX = -(2**31), 2**31 - 1
FLOAT_MAX = 3.4028234663852886e38


@dataclass(frozen=True, slots=True)
class OscMessage:
    """One message with plain Python arguments that fit its types."""

    address: str
    types: str
    arguments: tuple[int | float | str, ...]

    @property
    def data(self) -> bytes:
        """The datagram."""
        builder = OscMessageBuilder(self.address)
        for kind, value in zip(self.types, self.arguments, strict=True):
            builder.add_arg(value, kind)
        return builder.build().dgram


def hello(time_s: float, program_version: str) -> OscMessage:
    """Who speaks, at the start and every 5 s."""
    return _message(_FORMS["hello"], time_s, catalogue().version, program_version)


def note_on(event: NoteOn, pitch: SentPitch) -> OscMessage:
    """A note begins."""
    bend_cents = pitch.cents(event.inflection.bend_cents)
    return _message(
        _FORMS["on"], event.time_s, event.note_id, event.midi_note, event.degree, bend_cents, float(event.velocity)
    )


def inflect(event: Inflection, pitch: SentPitch) -> OscMessage:
    """What moves inside a note."""
    bend_cents = pitch.cents(event.bend_cents)
    return _message(
        _FORMS["inflect"],
        event.time_s,
        event.note_id,
        bend_cents,
        event.blueness,
        event.lean,
        event.breath,
        event.bright,
    )


def degree(event: Inflection) -> OscMessage:
    """The degree a note has moved to."""
    return _message(_FORMS["degree"], event.time_s, event.note_id, event.degree)


def note_off(event: NoteOff) -> OscMessage:
    """A note ends."""
    return _message(_FORMS["off"], event.time_s, event.note_id)


def pitch_point(event: PitchPoint) -> OscMessage:
    """What is heard, note or not."""
    return _message(_FORMS["pitch"], event.time_s, event.hz, event.cents, event.level_db, event.clean)


def _message(form: OscForm, time_s: float, *values: object) -> OscMessage:
    """Convert to plain int, float and str by the type tags; raises ValueError for what OSC cannot carry."""
    types = form.types
    plain = (_CONVERT[kind](value) for kind, value in zip(types, (_milliseconds(time_s), *values), strict=True))
    return OscMessage(form.address, types, tuple(plain))


def _milliseconds(time_s: float) -> int:
    if not math.isfinite(time_s):
        raise ValueError(f"stream time {time_s} s cannot go into OSC")
    return round(time_s * 1000.0)


def _integer(value: object) -> int:
    number = int(value)  # type: ignore[call-overload]  # also takes numpy's integers, which the builder refuses
    if not INT_MIN <= number <= INT_MAX:
        raise ValueError(f"{number} does not fit into 32 bits")
    return int(number)


def _real(value: object) -> float:
    number = float(value)  # type: ignore[arg-type]  # also takes numpy's floats, which the builder refuses
    if not abs(number) <= FLOAT_MAX:
        raise ValueError(f"{number} cannot go into OSC")
    return number


def _text(value: object) -> str:
    text = str(value)
    if "\0" in text:
        raise ValueError(f"{text!r} holds a zero byte, which would end it in OSC")
    return text


_CONVERT: dict[str, Callable[[object], int | float | str]] = {"i": _integer, "f": _real, "s": _text}
