"""A Standard MIDI File as notes with their bends and breath, whoever has written or edited it last.

Read are formats 0 and 1 with any tempo map and any number of tracks, notes on one channel or each on one of its own,
whatever the bend range that RPN 0 sets (MIDI 1.0, 4.2.1; where it sets none 2 semitones unless told). Breath is the
controller of the take, or channel pressure where there is none of that.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

from bridge.base.errors import ManyFaultsError, UserError
from bridge.base.progress import Progress, nobody
from bridge.send.midi_messages import DATA_ENTRY_LSB, DATA_ENTRY_MSB, RPN_BEND_RANGE, RPN_LSB, RPN_MSB
from bridge.takes.midi_line import NO_LINE, KeptLine, Line, LineStore
from bridge.takes.midi_moments import MidiMoments

#: What a receiver takes for the bend range where nobody has said it, cents.
USUAL_RANGE_CENTS = 200.0
_BEND_STEPS = 8192
_DATA_MAX = 127
#: Notes that overlap by no more than this have only been rounded, s.
_ROUNDED_S = 0.003


@dataclass(slots=True)
class ReadNote:
    """A note of the file: seconds, number, velocity 1..127, and its values as they came.

    ``bends`` are pairs of seconds from its start and cents, ``breaths`` pairs with 0..1; both begin at 0, but
    ``breaths`` is empty in a file without breath. ``pressures`` are those of channel pressure, which are its breath in
    a file without that controller. They are there once it has ended. ``step_cents`` is how fine its bends are.
    """

    start_s: float
    midi_note: int
    velocity: int
    step_cents: float
    length_s: float = 0.0
    bends: KeptLine = NO_LINE
    breaths: KeptLine = NO_LINE
    pressures: KeptLine = NO_LINE

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds."""
        return self.start_s + self.length_s


@dataclass(frozen=True, slots=True)
class MidiReading:
    """The notes in order, one at a time, and how long a tick is at most, in seconds.

    ``sets_range`` is whether the file says a bend range anywhere, ``channels`` those that its notes are on, 0..15.
    """

    notes: tuple[ReadNote, ...]
    tick_s: float
    sets_range: bool
    channels: frozenset[int]


def read_midi(
    path: Path,
    breath_controller: int | None,
    unsaid_range_cents: float = USUAL_RANGE_CENTS,
    progress: Progress = nobody,
) -> MidiReading:
    """The notes of the file; ``breath_controller`` is the number of the take's, None where it has none.

    Where the file says no bend range ``unsaid_range_cents`` is in force. ``progress`` is told the part read, 0..1.
    Raises UserError for what is no such file, and ManyFaultsError for notes that sound at once.
    """
    moments = MidiMoments(path, progress)
    ear = _Ear(breath_controller, unsaid_range_cents)
    now_s = 0.0
    for now_s, messages in moments:
        ear.hear(now_s, messages)
    ear.finish(now_s)
    notes = sorted(ear.notes, key=lambda note: note.start_s)
    _check_one_at_a_time(path, notes)
    return MidiReading(tuple(notes), moments.tick_s, ear.sets_range, frozenset(ear.channels))


def range_in(path: Path) -> float | None:
    """The bend range that the first note of a MIDI file has, cents; None where the file has not said one by then.

    Raises UserError for what is no such file.
    """
    ear = _Ear(None, USUAL_RANGE_CENTS)
    for now_s, messages in MidiMoments(path):
        ear.hear(now_s, messages)
        if ear.notes:
            return ear.notes[0].step_cents * _BEND_STEPS if ear.sets_range else None
    return None


@dataclass(frozen=True, slots=True)
class _Sounding:
    """A note that sounds, and what has come of its values."""

    note: ReadNote
    bends: Line = field(default_factory=Line)
    breaths: Line = field(default_factory=Line)
    pressures: Line = field(default_factory=Line)

    def since_s(self, now_s: float) -> float:
        """How long it has sounded."""
        return now_s - self.note.start_s


@dataclass(slots=True)
class _Channel:
    """What is in force on a channel, whether or not a note sounds there."""

    range_cents: float
    bend: int = 0
    breath: float | None = None
    pressure: float | None = None
    parameter: tuple[int, int] = (_DATA_MAX, _DATA_MAX)
    sounding: _Sounding | None = None

    @property
    def cents(self) -> float:
        """The bend in force."""
        return self.bend / _BEND_STEPS * self.range_cents


class _Ear:
    """Listens to a file in order of time; without any value of ``breath_controller`` channel pressure is the breath."""

    def __init__(self, breath_controller: int | None, range_cents: float) -> None:
        self.notes: list[ReadNote] = []
        self.sets_range = False
        self.channels: set[int] = set()
        self._breath_controller = breath_controller
        self._has_breath = False
        self._store = LineStore()
        self._channels = [_Channel(range_cents) for _ in range(16)]

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
        if not self._has_breath:
            for note in self.notes:
                note.breaths, note.pressures = note.pressures, NO_LINE

    def _begin(self, message: Any, now_s: float) -> None:  # noqa: ANN401 -- mido has no type information
        channel = self._channels[message.channel]
        self._stop(channel, now_s)
        note = ReadNote(now_s, message.note, message.velocity, channel.range_cents / _BEND_STEPS)
        channel.sounding = sounding = _Sounding(note)
        sounding.bends.put(0.0, channel.cents)
        if channel.breath is not None:
            sounding.breaths.put(0.0, channel.breath)
        if channel.pressure is not None:
            sounding.pressures.put(0.0, channel.pressure)
        self.notes.append(note)
        self.channels.add(message.channel)

    def _end(self, message: Any, now_s: float, *, begun_before: bool) -> bool:  # noqa: ANN401 -- as above
        channel = self._channels[message.channel]
        if channel.sounding is None:
            return False
        note = channel.sounding.note
        if note.midi_note != message.note or (begun_before and note.start_s >= now_s):
            return False
        self._stop(channel, now_s)
        return True

    def _stop(self, channel: _Channel, now_s: float) -> None:
        ended, channel.sounding = channel.sounding, None
        if ended is None:
            return
        note = ended.note
        note.length_s = ended.since_s(now_s)
        note.bends, note.breaths, note.pressures = map(self._store.keep, (ended.bends, ended.breaths, ended.pressures))

    def _take_value(self, message: Any, now_s: float) -> None:  # noqa: ANN401 -- as above
        if message.is_meta or not hasattr(message, "channel"):
            return
        channel = self._channels[message.channel]
        if message.type == "pitchwheel":
            channel.bend = message.pitch
            self._note_bend(channel, now_s)
        elif message.type == "control_change":
            self._take_controller(channel, message.control, message.value, now_s)
        elif message.type == "aftertouch":
            channel.pressure = message.value / _DATA_MAX
            if channel.sounding is not None:
                channel.sounding.pressures.put(channel.sounding.since_s(now_s), channel.pressure)

    def _take_controller(self, channel: _Channel, number: int, value: int, now_s: float) -> None:
        coarse, fine = channel.parameter
        is_range = channel.parameter == (0, RPN_BEND_RANGE)
        if number == RPN_MSB:
            channel.parameter = (value, fine)
        elif number == RPN_LSB:
            channel.parameter = (coarse, value)
        elif number == DATA_ENTRY_MSB and is_range:
            self.sets_range = True
            channel.range_cents = 100.0 * value
            self._note_bend(channel, now_s)
        elif number == DATA_ENTRY_LSB and is_range:
            channel.range_cents = channel.range_cents // 100.0 * 100.0 + value
            self._note_bend(channel, now_s)
        elif number == self._breath_controller:
            self._has_breath = True
            channel.breath = value / _DATA_MAX
            if channel.sounding is not None:
                channel.sounding.breaths.put(channel.sounding.since_s(now_s), channel.breath)

    def _note_bend(self, channel: _Channel, now_s: float) -> None:
        if channel.sounding is not None:
            channel.sounding.bends.put(channel.sounding.since_s(now_s), channel.cents)


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
