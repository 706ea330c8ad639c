"""The notes of a MIDI file in the words of the tables."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from bridge.base.errors import UserError
from bridge.send.pitch import SentPitch
from bridge.takes.breakpoints import TIME_DECIMALS, Tolerance
from bridge.takes.curves import Array, Curve, TimesAndValues
from bridge.takes.edited import EditedNote
from bridge.takes.midi_reading import MidiReading, ReadNote
from bridge.takes.tables import MOST_CENTS, PLAIN_BREATH

#: Bends further apart than so many intervals were held, not drawn as a line.
_HELD_INTERVALS = 2.5
#: Times nearer than this are one, s.
SAME_S = 2e-5
#: A step of a 7-bit controller, 0..1.
_BREATH_STEP = 1 / 127


@dataclass(frozen=True, slots=True)
class Heard:
    """A note of the file in the words of the tables, its id still 0 and without breakpoints, and its curve."""

    note: EditedNote
    curve: Curve
    has_breath: bool
    step: Tolerance


class HeardNotes:
    """The notes that were read of a file, in order; each is heard when it is asked for, as often as it is.

    All the curves of an hour would take tens of megabytes at once. ``pitch_at`` tells how much of a bend went out,
    ``interval_s`` how far apart the values of a moving bend are; notes within ``slack_s`` follow legato.
    """

    def __init__(
        self, reading: MidiReading, pitch_at: Callable[[EditedNote], SentPitch], interval_s: float, slack_s: float
    ) -> None:
        self._notes = reading.notes
        self._pitch_at, self._interval_s, self._slack_s = pitch_at, interval_s, slack_s

    def bare(self) -> Iterator[EditedNote]:
        """The notes without their curves."""
        return map(_bare, self._notes)

    def __len__(self) -> int:
        return len(self._notes)

    def __iter__(self) -> Iterator[Heard]:
        return map(self.__getitem__, range(len(self)))

    def __getitem__(self, place: int) -> Heard:
        """The note at a place, from 0.

        Raises UserError where bends did not go out, and for bends that no table holds.
        """
        read = self._notes[place]
        note = _bare(read)
        pitch = self._pitch_at(note)
        if pitch.strength == 0.0:
            raise UserError("This take sends no bends (send.strength is 0), so none can be taken back from MIDI.")
        times, cents = read.bends.arrays()
        bends = times, (cents - pitch.offset_cents) / pitch.strength
        _check_within_tables(note, bends[1])
        breaths = read.breaths.arrays() if read.breaths else (np.zeros(1), np.full(1, PLAIN_BREATH))
        after_s = self._notes[place + 1].start_s if place + 1 < len(self) else math.inf
        if after_s - read.end_s <= self._slack_s:
            # The values at its very end may be those of the one that follows.
            bends, breaths = (_before(line, read.length_s) for line in (bends, breaths))
        bends, breaths = (_drawn(line, self._interval_s) for line in (bends, breaths))
        step = Tolerance(read.step_cents / pitch.strength, _BREATH_STEP)
        return Heard(note, Curve.of(bends, breaths, note.length_s), bool(read.breaths), step)


def _bare(read: ReadNote) -> EditedNote:
    start_s, length_s = round(read.start_s, TIME_DECIMALS), round(read.length_s, TIME_DECIMALS)
    return EditedNote(0, start_s, length_s, read.midi_note, "", read.velocity, None, "", "", None, "", ())


def _check_within_tables(note: EditedNote, cents: Array) -> None:
    widest = float(cents[np.argmax(np.abs(cents))])
    if abs(widest) > MOST_CENTS:
        raise UserError(
            f"The MIDI file bends note {note.midi_note} at {note.start_s:.3f} s by {widest:.0f} cents; allowed are "
            f"{-MOST_CENTS:.0f} to {MOST_CENTS:.0f}. Nothing was taken back: look at its bend range (RPN 0)."
        )


def _before(line: TimesAndValues, end_s: float) -> TimesAndValues:
    """The values before the end, and the first in any case."""
    times, values = line
    kept = times < end_s - SAME_S
    kept[0] = True
    return times[kept], values[kept]


def _drawn(line: TimesAndValues, interval_s: float) -> TimesAndValues:
    """The values with their last moment before each that comes so late that the one before was held."""
    times, values = line
    late = np.flatnonzero(np.diff(times) > _HELD_INTERVALS * interval_s) + 1
    return np.insert(times, late, times[late] - interval_s), np.insert(values, late, values[late - 1])
