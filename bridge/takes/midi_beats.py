"""Where seconds lie in the ticks of ``performance.mid``, and where its bars begin.

A MIDI file counts its bars from its own beginning, and a player seldom begins on one. So what comes before the first
whole bar is a bar of its own, the pickup: as long, in notes, as comes nearest, and of such a tempo that it lasts as
long as it did. From its end on bars and tempo are those of the take, and bar 1 falls on a bar line. No time is moved.

Source: Standard MIDI Files 1.0 (RP-001): tempo in whole microseconds a quarter, time signature with a power of 2 below.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import mido

from bridge.takes.edited import Tempo

TICKS_PER_QUARTER = 960
#: The tempo of a file where none is known.
PLAIN_TEMPO = Tempo(120.0, 0.0)
_MICROSECONDS = 1e6
_TICKS_PER_WHOLE = 4 * TICKS_PER_QUARTER
#: A quarter is the fourth note value of a whole; the signature's lower number.
_QUARTER = 4
#: Note values that a pickup may be counted in, and how near to its length they shall come, as a ratio.
_VALUES, _NEAR = (4, 8, 16, 32), 0.1
#: The header of a MIDI file, and of a track: four letters and four bytes of length.
_HEADER, _TRACK_HEADER = 14, 8


@dataclass(frozen=True, slots=True)
class _Bar:
    """The bar before the first whole one: so many of a note value, its ticks, and microseconds a quarter."""

    count: int
    value: int
    ticks: int
    quarter_us: int

    @property
    def length_s(self) -> float:
        """How long it lasts."""
        return self.ticks * self.quarter_us / TICKS_PER_QUARTER / _MICROSECONDS


class MidiBeats:
    """The beats of a file; of ``tempo`` None those of a file where none is known, which has no bars."""

    def __init__(self, tempo: Tempo | None) -> None:
        self.tempo = tempo
        self._quarter_us = round(_MICROSECONDS * (tempo or PLAIN_TEMPO).quarter_s)
        self._ticks_per_second = TICKS_PER_QUARTER * _MICROSECONDS / self._quarter_us
        self._pickup = None if tempo is None else self._pickup_of(tempo)
        self._from_s = 0.0 if self._pickup is None else self._pickup.length_s
        self._from_tick = 0 if self._pickup is None else self._pickup.ticks

    def tick(self, time_s: float) -> int:
        """The tick nearest to a second of the take, from 0."""
        if self._pickup is not None and time_s < self._from_s:
            return round(time_s / self._from_s * self._from_tick)
        return self._from_tick + round((time_s - self._from_s) * self._ticks_per_second)

    def time_s(self, tick: int) -> float:
        """The second of the take at which a tick is."""
        if self._pickup is not None and tick < self._from_tick:
            return tick / self._from_tick * self._from_s
        return self._from_s + (tick - self._from_tick) / self._ticks_per_second

    def messages(self) -> Sequence[mido.MetaMessage]:
        """Tempo and bars, with the ticks from one to the next, and a marker where bar 1 begins, but at 0."""
        if self.tempo is None:
            return [mido.MetaMessage("set_tempo", tempo=self._quarter_us, time=0)]
        found: list[mido.MetaMessage] = []
        if self._pickup is not None:
            bar = self._pickup
            found += _bars(bar.quarter_us, bar.count, bar.value, 0)
        found += _bars(self._quarter_us, self.tempo.quarters_in_bar, _QUARTER, self._from_tick)
        bar_1 = self.tick(self.tempo.bar_1_s)
        if bar_1 > 0:
            found.append(mido.MetaMessage("marker", text="bar 1", time=bar_1 - self._from_tick))
        return found

    def _pickup_of(self, tempo: Tempo) -> _Bar | None:
        """What comes before the first whole bar, None where one begins at once."""
        bar_ticks = tempo.quarters_in_bar * TICKS_PER_QUARTER
        ticks = (tempo.bar_1_s * self._ticks_per_second) % bar_ticks
        if round(ticks) in {0, bar_ticks}:
            return None
        for value in _VALUES:
            one = _TICKS_PER_WHOLE // value
            count = max(1, round(ticks / one))
            if abs(count * one / ticks - 1.0) <= _NEAR:
                break
        return _Bar(count, value, count * one, max(1, round(self._quarter_us * ticks / (count * one))))


def has_beats(path: Path, tempo: Tempo | None) -> bool:
    """Whether a file that this program wrote has the beats of ``tempo``; False for one that cannot be read.

    Only its first track is read, which has no notes.
    """
    try:
        with path.open("rb") as file:
            header = file.read(_HEADER)
            track = file.read(_TRACK_HEADER)
            track += file.read(int.from_bytes(track[4:]))
        # The header counts the tracks before it says what a tick is.
        alone = header[:10] + b"\0\1" + header[12:]
        (conductor,) = mido.MidiFile(file=io.BytesIO(alone + track), charset="utf-8").tracks
    except (OSError, EOFError, ValueError, KeyError, IndexError):
        return False
    told = [message for message in conductor if message.type not in {"track_name", "text", "end_of_track"}]
    return told == list(MidiBeats(tempo).messages())


def _bars(quarter_us: int, count: int, value: int, after: int) -> list[mido.MetaMessage]:
    """Bars of so many of a note value at a tempo, ``after`` so many ticks."""
    return [
        mido.MetaMessage("set_tempo", tempo=quarter_us, time=after),
        mido.MetaMessage("time_signature", numerator=count, denominator=value, time=0),
    ]
