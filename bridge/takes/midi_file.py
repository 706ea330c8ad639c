"""``performance.mid``: the events as a Standard MIDI File.

Source: Standard MIDI Files 1.0 (RP-001): format 1, tempo and track name at tick 0. 960 ticks a quarter at 120 quarters
a minute make a tick 0.52 ms. The messages are those of the wire; the bend range comes first, then the program, and the
values of a note stand one tick before it, so that a player that sorts a tick differently still bends before it sounds.
"""

from __future__ import annotations

import io
from array import array
from collections.abc import Iterable, Iterator
from itertools import chain

import mido

from bridge.base.events import Event
from bridge.send.midi_encoder import MidiEncoder, Outgoing
from bridge.send.midi_messages import is_note_on
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch

TICKS_PER_QUARTER = 960
QUARTERS_PER_MINUTE = 120
TICKS_PER_SECOND = TICKS_PER_QUARTER * QUARTERS_PER_MINUTE / 60
MESSAGE_BYTES = 3


class MidiFileBuilder:
    """Collects events in order, eleven bytes a message; ``program`` is 0..127, None for no Program Change."""

    def __init__(self, settings: MidiSettings, pitch: SentPitch, program: int | None = None) -> None:
        self._encoder = MidiEncoder(settings.on_one_channel(), pitch)
        self._ticks = array("Q")
        self._messages = bytearray()
        self._tick = 0
        self._opening = [mido.Message.from_bytes(data) for item in self._encoder.opening() for data in item.messages]
        if program is not None:
            self._opening.append(mido.Message("program_change", channel=settings.channel - 1, program=program))

    def add(self, event: Event) -> None:
        """Take the next event; it stands at the tick of its ``time_s``, or at the last one if that is later."""
        items = self._encoder.encode(event)
        if not items:
            return
        tick = max(self._tick, round(event.time_s * TICKS_PER_SECOND))
        *before, last = items
        if before and is_note_on(last.messages[0]):
            self._tick = max(self._tick, tick - 1)
            self._put(before)
            self._tick += 1
            self._put([last])
        else:
            self._tick = tick
            self._put(items)

    def finish(self, time_s: float) -> None:
        """End the note that sounds, if one does."""
        self._tick = max(self._tick, round(time_s * TICKS_PER_SECOND))
        self._put(self._encoder.release())

    def data(self, track_name: str) -> bytes:
        """The file, with ``track_name`` in UTF-8."""
        conductor = mido.MidiTrack(
            [
                mido.MetaMessage("track_name", name=track_name, time=0),
                mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(QUARTERS_PER_MINUTE), time=0),
            ]
        )
        name = mido.MetaMessage("track_name", name=track_name, time=0)
        # Made one by one while they are written: as a list, the messages of an hour would fill a gigabyte.
        notes = chain([name], self._opening, self._track())
        file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8", tracks=[conductor, notes])
        data = io.BytesIO()
        file.save(file=data)
        return data.getvalue()

    def _track(self) -> Iterator[mido.Message]:
        last = 0
        for index, tick in enumerate(self._ticks):
            data = self._messages[MESSAGE_BYTES * index : MESSAGE_BYTES * (index + 1)]
            yield mido.Message.from_bytes(data, time=tick - last)
            last = tick

    def _put(self, items: Iterable[Outgoing]) -> None:
        for item in items:
            for data in item.messages:
                self._ticks.append(self._tick)
                self._messages += data
