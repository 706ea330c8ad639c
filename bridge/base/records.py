"""Events, status and commands as small fixed-size records, for the hand-off between processes.

Little-endian: one byte that says the kind, then the fields in the order of the dataclass, as in ``_FORMS``. Numbers
are kept exactly; words are UTF-8 and cut, at a whole character, to the room they have.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, fields
from operator import attrgetter
from typing import Any

from bridge.base.commands import Arm, Begin, ChangeHarp, Command, HearClicks, Panic, Quiet, Stop, Tap
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint, Status


@dataclass(frozen=True, slots=True)
class Saying:
    """One line for the performer, such as a MIDI port that went away."""

    text: str


@dataclass(frozen=True, slots=True)
class TappedTempo:
    """What the player has tapped: ``quarters_per_minute``, and where bar 1 begins in seconds of the stream."""

    quarters_per_minute: float
    bar_1_s: float


@dataclass(frozen=True, slots=True)
class TakeStopped:
    """The take is kept up to ``at_s`` of the stream, and ``why`` not further.

    Infinity: all that was played is kept, but not every file that is made of it at the end.
    """

    at_s: float
    why: str


@dataclass(frozen=True, slots=True)
class ClicksBack:
    """How much later than it was played a count-in came in, seconds; negative where it did not surely come back."""

    delay_s: float


Record = Event | Status | Saying | TappedTempo | ClicksBack | TakeStopped | Command


class _Form:
    """How one kind of record is laid out: its leading byte, its dataclass and the struct of its fields."""

    def __init__(self, kind: int, record: type[Record], layout: str) -> None:
        self.kind = kind
        self.record = record
        self.struct = struct.Struct(f"<B{layout}")
        names = [field.name for field in fields(record)]
        self.getters = [attrgetter(name) for name in names]


_INFLECTION_LAYOUT = "q3d12s4d"
_INFLECTION_BYTES = struct.calcsize(f"<B{_INFLECTION_LAYOUT}")
_FORMS = (
    _Form(1, PitchPoint, "6d"),
    _Form(2, NoteOn, f"q2dBd{_INFLECTION_BYTES}s"),
    _Form(3, Inflection, _INFLECTION_LAYOUT),
    _Form(4, NoteOff, "q2d"),
    _Form(5, Status, "d?32sqH2d?2dqd"),
    _Form(6, Saying, "200s"),
    _Form(7, TappedTempo, "2d"),
    _Form(8, ClicksBack, "d"),
    _Form(9, TakeStopped, "d160s"),
    _Form(32, Arm, "b?"),
    _Form(33, ChangeHarp, "32s"),
    _Form(34, Panic, ""),
    _Form(35, Stop, ""),
    _Form(36, Tap, ""),
    _Form(37, Quiet, "?"),
    _Form(38, Begin, ""),
    _Form(39, HearClicks, "2dB"),
)
_BY_TYPE = {form.record: form for form in _FORMS}
_BY_KIND = {form.kind: form for form in _FORMS}

#: The longest record in bytes: the ``record_bytes`` of a hand-off that carries these.
RECORD_BYTES = max(form.struct.size for form in _FORMS)


def encode(record: Record) -> bytes:
    """``record`` as bytes, at most ``RECORD_BYTES`` of them."""
    form = _BY_TYPE[type(record)]
    return form.struct.pack(form.kind, *[_packed(getter(record)) for getter in form.getters])


def decode(data: bytes) -> Record:
    """The record that :func:`encode` made ``data`` of. Raises ValueError for anything else."""
    form = _BY_KIND.get(data[0]) if data else None
    if form is None or len(data) != form.struct.size:
        message = f"not a record: {data[:16]!r}"
        raise ValueError(message)
    _, *values = form.struct.unpack(data)
    if form.record is NoteOn:
        values[-1] = decode(values[-1])
    elif form.record is Arm:
        values[0] = None if values[0] < 0 else bool(values[0])
    elif form.record is Status:
        values[-1] = None if values[-1] < 0 else values[-1]
    return form.record(*map(_word, values))


def decode_command(data: bytes) -> Command:
    """The command in ``data``. Raises ValueError for anything else, an event included."""
    record = decode(data)
    if isinstance(record, Arm | ChangeHarp | Panic | Stop | Tap | Quiet | Begin | HearClicks):
        return record
    message = f"not a command: {record!r}"
    raise ValueError(message)


def _packed(value: object) -> object:
    """A field as struct takes it; struct itself cuts and fills the words."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace")
    if isinstance(value, Inflection):
        return encode(value)
    return -1 if value is None else value


def _word(value: Any) -> Any:  # noqa: ANN401 -- struct gives numbers, truth values and bytes
    """Bytes as the word they were, the zeros that filled the field and half a last character left away."""
    return value.rstrip(b"\0").decode("utf-8", "ignore") if isinstance(value, bytes) else value
