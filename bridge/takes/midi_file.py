"""``performance.mid``: the events as a Standard MIDI File.

Source: Standard MIDI Files 1.0 (RP-001): format 1, tempo and track name at tick 0. 960 ticks a quarter at 120 quarters
a minute make a tick 0.52 ms. The messages are those of the wire; the bend range comes first, then the program, and the
values of a note stand one tick before it, so that a player that sorts a tick differently still bends before it sounds.
A bend or breath that was held is written once more at the last moment before it moves on, so that whoever draws lines
between the values draws the curve.
"""

from __future__ import annotations

import io
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

import mido

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.send.midi_encoder import Lane, MidiEncoder, Outgoing
from bridge.send.midi_messages import is_note_on
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.edited import Tempo
from bridge.takes.midi_beats import TICKS_PER_QUARTER, MidiBeats

MESSAGE_BYTES = 3
#: Channel messages with one data byte: program change and channel pressure (MIDI 1.0, table I).
_SHORT = (0xC0, 0xD0)
#: What a curve is drawn with.
_DRAWN = (Lane.BEND, Lane.BREATH)


@dataclass(slots=True)
class _Drawn:
    """The messages of a value in force, their tick, and until when it has been held since."""

    messages: Sequence[bytes] = ()
    tick: int = 0
    held_tick: int = 0


class _Encoded:
    """A message of a channel as mido writes it to a file, already in the bytes of the wire.

    Made into a message of mido's first, each would be taken apart, checked and put together again: of an hour, a
    million.
    """

    __slots__ = ("_data", "time")
    type = "encoded"
    is_meta = is_realtime = False

    def __init__(self, data: bytes, time: int) -> None:
        self._data, self.time = data, time

    def bytes(self) -> bytes:
        """Status and data."""
        return self._data


class MidiFileBuilder:
    """Collects events in order, seven bytes a message; ``program`` is 0..127, None for no Program Change.

    Notes stand on one channel, or with ``mpe`` in the zone that ``settings`` say. Of ``tempo`` the file has the beats
    and the bars.
    """

    def __init__(
        self,
        settings: MidiSettings,
        pitch: SentPitch,
        program: int | None = None,
        *,
        mpe: bool = False,
        tempo: Tempo | None = None,
    ) -> None:
        layout = settings if mpe else settings.on_one_channel()
        self._encoder = MidiEncoder(layout, pitch)
        self._beats = MidiBeats(tempo)
        self._ticks = array("I")
        self._messages = bytearray()
        self._tick = 0
        self._drawn = {lane: _Drawn() for lane in _DRAWN}
        self._opening = [mido.Message.from_bytes(data) for item in self._encoder.opening() for data in item.messages]
        if program is not None:
            self._opening += [
                mido.Message("program_change", channel=channel - 1, program=program) for channel in layout.channels
            ]

    def add(self, event: Event) -> None:
        """Take the next event; it stands at the tick of its ``time_s``, or at the last one if that is later."""
        items = self._encoder.encode(event)
        tick = max(self._tick, self._beats.tick(event.time_s))
        match event:
            case NoteOn() if items:
                *before, last = items
                self._tick = max(self._tick, tick - 1) if before and is_note_on(last.messages[0]) else tick
                self._hold(before)
                self._put(before)
                self._tick += bool(before)
                self._put([last])
            case Inflection() if self._encoder.sounds:
                self._hold(items, tick)
                self._tick = tick if items else self._tick
                self._put(items)
            case NoteOff() if items:
                self._tick = tick
                self._put(items)
            case _:
                pass

    def finish(self, time_s: float) -> None:
        """End the note that sounds, if one does."""
        self._tick = max(self._tick, self._beats.tick(time_s))
        self._put(self._encoder.release())

    def data(self, track_name: str, tempo: Tempo | None = None, *, mark: str = "") -> bytes:
        """The file, with ``track_name`` in UTF-8, and with the beats of ``tempo`` where that is known by now.

        ``mark`` is a text at tick 0 of the first track, none where it is empty.
        """
        beats = self._beats if tempo in {None, self._beats.tempo} else MidiBeats(tempo)
        name = mido.MetaMessage("track_name", name=track_name, time=0)
        # Made one by one while they are written: as a list, the messages of an hour would fill a gigabyte.
        notes = chain([name], self._opening, self._track(beats))
        marks = [mido.MetaMessage("text", text=mark, time=0)] if mark else []
        tracks = [[name, *marks, *beats.messages()], notes]
        file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8", tracks=tracks)
        data = io.BytesIO()
        file.save(file=data)
        return data.getvalue()

    def _track(self, beats: MidiBeats) -> Iterator[_Encoded]:
        last = 0
        for index, tick in enumerate(self._placed(beats)):
            data = self._message(index)
            yield _Encoded(data[: 2 if data[0] & 0xF0 in _SHORT else 3], tick - last)
            last = tick

    def _placed(self, beats: MidiBeats) -> Iterator[int]:
        """The ticks of the messages in the beats of the file; the values of a note stay before it there too."""
        if beats is self._beats:
            yield from self._ticks
            return
        before = last = 0
        for index, tick in enumerate(self._ticks):
            placed = max(last, beats.tick(self._beats.time_s(tick)))
            if index and tick > before and is_note_on(self._message(index)):
                placed = max(placed, last + 1)
            yield placed
            before, last = tick, placed

    def _message(self, index: int) -> bytes:
        """One message, short ones filled up with zeros."""
        return bytes(self._messages[MESSAGE_BYTES * index : MESSAGE_BYTES * (index + 1)])

    def _hold(self, items: Sequence[Outgoing], tick: int | None = None) -> None:
        """Note that what is in force holds up to now; what one of ``items`` ends is written once more before.

        ``tick`` is that of ``items``, None for the values of a note, before which no line is drawn.
        """
        now = self._tick if tick is None else tick
        for lane in _DRAWN:
            messages = [data for item in items if item.lane is lane for data in item.messages]
            last = self._drawn[lane]
            if not messages:
                last.held_tick = now
                continue
            if tick is not None and last.tick < last.held_tick:
                # Not before what is written already: the Note On of a note that begins with what was in force.
                until = max(min(last.held_tick, tick - 1), *self._ticks[-1:])
                for data in last.messages if last.tick < until < tick else ():
                    self._append(until, data)
            self._drawn[lane] = _Drawn(messages, now, now)

    def _put(self, items: Iterable[Outgoing]) -> None:
        for item in items:
            for data in item.messages:
                self._append(self._tick, data)

    def _append(self, tick: int, data: bytes) -> None:
        self._ticks.append(tick)
        self._messages += data.ljust(MESSAGE_BYTES, b"\0")
