"""A Standard MIDI File as notes with their bends and breath, whoever has written or edited it last.

Read are formats 0 and 1 with any tempo map and any number of tracks, notes on one channel or each on one of its own,
whatever the bend range that RPN 0 sets (MIDI 1.0, 4.2.1; 2 semitones where it sets none); breath is the controller of
the take, or channel pressure where there is none of that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

import mido

from bridge.base.errors import ManyFaultsError, UserError
from bridge.send.midi_messages import DATA_ENTRY_LSB, DATA_ENTRY_MSB, RPN_BEND_RANGE, RPN_LSB, RPN_MSB

#: What a receiver takes for the bend range where nobody has said it, cents.
USUAL_RANGE_CENTS = 200.0
_PLAIN_US = 500_000
_MICROSECONDS = 1e6
_BEND_STEPS = 8192
_DATA_MAX = 127
#: Notes that overlap by no more than this have only been rounded, s.
_ROUNDED_S = 0.003
#: A leap takes no longer than this, s.
_LEAP_S = 1e-4


@dataclass(slots=True)
class ReadNote:
    """A note of the file: seconds, number, velocity 1..127, and its values as they came.

    ``bends`` are pairs of seconds from its start and cents, ``breaths`` pairs with 0..1; both begin at 0, but
    ``breaths`` is empty in a file without breath. ``step_cents`` is how fine its bends are.
    """

    start_s: float
    midi_note: int
    velocity: int
    step_cents: float
    length_s: float = 0.0
    bends: list[tuple[float, float]] = field(default_factory=list)
    breaths: list[tuple[float, float]] = field(default_factory=list)

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds."""
        return self.start_s + self.length_s


@dataclass(frozen=True, slots=True)
class MidiReading:
    """The notes in order, one at a time, and how long a tick is at most, in seconds."""

    notes: tuple[ReadNote, ...]
    tick_s: float


def read_midi(path: Path, breath_controller: int | None) -> MidiReading:
    """The notes of the file; ``breath_controller`` is the number of the take's, None where it has none.

    Raises UserError for what is no such file, and ManyFaultsError for notes that sound at once.
    """
    file = _opened(path)
    moments = list(_moments(file))
    every = [message for _, messages in moments for message in messages]
    used = {message.control for message in every if message.type == "control_change"}
    ear = _Ear(breath_controller if breath_controller in used else None)
    now_s = 0.0
    for now_s, messages in moments:
        ear.hear(now_s, messages)
    ear.finish(now_s)
    notes = sorted(ear.notes, key=lambda note: note.start_s)
    _check_one_at_a_time(path, notes)
    slowest_us = max((message.tempo for message in every if message.type == "set_tempo"), default=_PLAIN_US)
    return MidiReading(tuple(notes), slowest_us / _MICROSECONDS / file.ticks_per_beat)


def _opened(path: Path) -> mido.MidiFile:
    try:
        file = mido.MidiFile(path, charset="utf-8", clip=True)
    except OSError as error:
        # mido says so too of what is no MIDI file, then without a number.
        why = error.strerror or "it is no Standard MIDI File"
        raise UserError(f"{path} cannot be read ({why}). Give a MIDI file.") from error
    except (EOFError, ValueError, KeyError, IndexError, UnicodeDecodeError) as error:
        why = str(error) or "it ends too soon"
        raise UserError(f"{path} is damaged or no Standard MIDI File ({why}). Save it again as MIDI.") from error
    if file.type not in {0, 1} or file.ticks_per_beat <= 0:
        raise UserError(f"{path}: found a file of format {file.type}, allowed: 0 or 1, with ticks in a quarter.")
    return file


def _moments(file: mido.MidiFile) -> Iterator[tuple[float, list[Any]]]:
    """All that happens at one tick, with its time in seconds, in order."""
    placed: list[tuple[int, Any]] = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            placed.append((tick, message))
    # Stable: what stood in one track in an order stays in it.
    placed.sort(key=lambda one: one[0])
    seconds, last, tempo_us = 0.0, 0, _PLAIN_US
    for tick, group in groupby(placed, key=lambda one: one[0]):
        seconds += (tick - last) * tempo_us / _MICROSECONDS / file.ticks_per_beat
        last = tick
        messages = [message for _, message in group]
        for message in messages:
            if message.type == "set_tempo":
                tempo_us = message.tempo
        yield seconds, messages


@dataclass(slots=True)
class _Channel:
    """What is in force on a channel, whether or not a note sounds there."""

    bend: int = 0
    range_cents: float = USUAL_RANGE_CENTS
    breath: float | None = None
    parameter: tuple[int, int] = (_DATA_MAX, _DATA_MAX)
    sounding: ReadNote | None = None

    @property
    def cents(self) -> float:
        """The bend in force."""
        return self.bend / _BEND_STEPS * self.range_cents


class _Ear:
    """Listens to a file in order of time; with ``breath_controller`` None channel pressure is the breath."""

    def __init__(self, breath_controller: int | None) -> None:
        self.notes: list[ReadNote] = []
        self._breath_controller = breath_controller
        self._channels = [_Channel() for _ in range(16)]

    def hear(self, now_s: float, messages: Iterable[Any]) -> None:
        """Take all messages of one tick, beginnings last: values beside a Note On are those that it begins with."""
        begun: list[Any] = []
        late: list[Any] = []
        for message in messages:
            if message.type == "note_on" and message.velocity > 0:
                begun.append(message)
            elif message.type in {"note_on", "note_off"}:
                ended = self._end(message, now_s, begun_before=True)
                late += [] if ended else [message]
            else:
                self._take_value(message, now_s)
        for message in begun:
            self._begin(message, now_s)
        for message in late:
            self._end(message, now_s, begun_before=False)

    def finish(self, now_s: float) -> None:
        """End what sounds: a note never hangs."""
        for channel in self._channels:
            self._stop(channel, now_s)

    def _begin(self, message: Any, now_s: float) -> None:  # noqa: ANN401 -- mido has no type information
        channel = self._channels[message.channel]
        self._stop(channel, now_s)
        note = ReadNote(now_s, message.note, message.velocity, channel.range_cents / _BEND_STEPS)
        note.bends.append((0.0, channel.cents))
        if channel.breath is not None:
            note.breaths.append((0.0, channel.breath))
        channel.sounding = note
        self.notes.append(note)

    def _end(self, message: Any, now_s: float, *, begun_before: bool) -> bool:  # noqa: ANN401 -- as above
        channel = self._channels[message.channel]
        note = channel.sounding
        if note is None or note.midi_note != message.note or (begun_before and note.start_s >= now_s):
            return False
        self._stop(channel, now_s)
        return True

    def _stop(self, channel: _Channel, now_s: float) -> None:
        note, channel.sounding = channel.sounding, None
        if note is not None:
            note.length_s = now_s - note.start_s

    def _take_value(self, message: Any, now_s: float) -> None:  # noqa: ANN401 -- as above
        if message.is_meta or not hasattr(message, "channel"):
            return
        channel = self._channels[message.channel]
        if message.type == "pitchwheel":
            channel.bend = message.pitch
            self._note_bend(channel, now_s)
        elif message.type == "control_change":
            self._take_controller(channel, message.control, message.value, now_s)
        elif message.type == "aftertouch" and self._breath_controller is None:
            self._note_breath(channel, message.value / _DATA_MAX, now_s)

    def _take_controller(self, channel: _Channel, number: int, value: int, now_s: float) -> None:
        coarse, fine = channel.parameter
        is_range = channel.parameter == (0, RPN_BEND_RANGE)
        if number == RPN_MSB:
            channel.parameter = (value, fine)
        elif number == RPN_LSB:
            channel.parameter = (coarse, value)
        elif number == DATA_ENTRY_MSB and is_range:
            channel.range_cents = 100.0 * value
            self._note_bend(channel, now_s)
        elif number == DATA_ENTRY_LSB and is_range:
            channel.range_cents = channel.range_cents // 100.0 * 100.0 + value
            self._note_bend(channel, now_s)
        elif number == self._breath_controller:
            self._note_breath(channel, value / _DATA_MAX, now_s)

    def _note_bend(self, channel: _Channel, now_s: float) -> None:
        if channel.sounding is not None:
            _put(channel.sounding.bends, now_s - channel.sounding.start_s, channel.cents)

    def _note_breath(self, channel: _Channel, breath: float, now_s: float) -> None:
        channel.breath = breath
        if channel.sounding is not None:
            _put(channel.sounding.breaths, now_s - channel.sounding.start_s, breath)


def _put(values: list[tuple[float, float]], at_s: float, value: float) -> None:
    """Append a value; of two at one time, a leap, the first is moved a moment before."""
    if values and values[-1][0] >= at_s:
        _, first = values.pop()
        if values and values[-1][0] < at_s - _LEAP_S:
            values.append((at_s - _LEAP_S, first))
    values.append((at_s, value))


def _check_one_at_a_time(path: Path, notes: list[ReadNote]) -> None:
    """Cut what only rounding has let overlap; the rest is for the user to part."""
    errors: list[UserError] = []
    for before, after in pairwise(notes):
        over_s = before.end_s - after.start_s
        if over_s > _ROUNDED_S:
            errors.append(
                UserError(
                    f"{path}: found note {after.midi_note} at {after.start_s:.3f} s while note {before.midi_note} "
                    f"sounds to {before.end_s:.3f} s, allowed: one note at a time. Shorten the first one."
                )
            )
        elif over_s > 0.0:
            before.length_s = max(0.0, after.start_s - before.start_s)
    if errors:
        raise errors[0] if len(errors) == 1 else ManyFaultsError(errors)
