"""``performance.mid``: the events as a Standard MIDI File.

Source: Standard MIDI Files 1.0 (RP-001): format 1, tempo and track name at tick 0. 960 ticks a quarter at 120 quarters
a minute make a tick 0.52 ms. The messages are those of the wire; the bend range comes first, then the program, and the
values of a note stand one tick before it, so that a player that sorts a tick differently still bends before it sounds.
A bend or breath that was held is written once more at the last moment before it moves on, so that whoever draws lines
between the values draws the curve.
"""

from __future__ import annotations

import io
import struct
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

import mido
from mido.midifiles.meta import encode_variable_int

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from bridge.base.spool import Spool
from bridge.send.midi_encoder import Lane, MidiEncoder, Outgoing
from bridge.send.midi_messages import is_note_on
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from bridge.takes.edited import Tempo
from bridge.takes.midi_beats import TICKS_PER_QUARTER, MidiBeats

#: A message as it is kept: its tick, and its bytes, short ones filled up with zeros; and so many at once.
_KEPT, _KEPT_AT_ONCE = struct.Struct("<I3s"), 8192
#: Channel messages with one data byte: program change and channel pressure (MIDI 1.0, table I).
_SHORT = (0xC0, 0xD0)
#: How mido ends every track: at once, ``FF 2F 00``.
_END = bytes.fromhex("00 FF 2F 00")
#: What a curve is drawn with.
_DRAWN = (Lane.BEND, Lane.BREATH)


@dataclass(slots=True)
class _Drawn:
    """The messages of a value in force, their tick, and until when it has been held since."""

    messages: Sequence[bytes] = ()
    tick: int = 0
    held_tick: int = 0


class MidiFileBuilder:
    """Collects events in order; ``program`` is 0..127, None for no Program Change.

    Notes stand on one channel, or with ``mpe`` in the zone that ``settings`` say. Of ``tempo`` the file has the beats
    and the bars. Messages, a million in an hour, wait in a file without a name in ``folder``. A context manager that
    closes when left.
    """

    def __init__(
        self,
        settings: MidiSettings,
        pitch: SentPitch,
        program: int | None = None,
        *,
        folder: Path,
        mpe: bool = False,
        tempo: Tempo | None = None,
    ) -> None:
        layout = settings if mpe else settings.on_one_channel()
        self._encoder = MidiEncoder(layout, pitch)
        self._beats = MidiBeats(tempo)
        self._kept = Spool(folder, _KEPT.size * _KEPT_AT_ONCE)
        self._tick = self._last_tick = 0
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

    def write(self, out: BinaryIO, track_name: str, tempo: Tempo | None = None, *, mark: str = "") -> None:
        """Write the file to ``out``, an empty file, with ``track_name`` in UTF-8; as often as is asked.

        It has the beats of ``tempo`` where that is known by now. ``mark`` is a text at tick 0 of the first track, none
        where it is empty. Raises OSError when it cannot be written, or what was collected not be read back.
        """
        beats = self._beats if tempo in {None, self._beats.tempo} else MidiBeats(tempo)
        name = mido.MetaMessage("track_name", name=track_name, time=0)
        marks = [mido.MetaMessage("text", text=mark, time=0)] if mark else []
        conductor, opening = [name, *marks, *beats.messages()], [name, *self._opening]
        out.write(_saved([conductor, opening]).removesuffix(_END))
        # Each is in the file as soon as it is made: a list of them would fill a gigabyte.
        out.writelines(_in_track(self._placed(beats), self._opening[-1].bytes()[0] if self._opening else None))
        out.write(_END)
        end = out.tell()
        # The length of the track, which is known by now, comes after its four letters.
        out.seek(len(_saved([conductor])) + 4)
        out.write((end - out.tell() - 4).to_bytes(4))
        out.seek(end)

    def take_back(self) -> None:
        """Hold what was collected in memory, so that the disk has room for the file; raises OSError."""
        self._kept.take_back()

    def close(self) -> None:
        """Give up what was collected; closing again does nothing."""
        self._kept.close()

    def _messages(self) -> Iterator[tuple[int, bytes]]:
        """What was collected: ticks, and messages of three bytes."""
        return chain.from_iterable(map(_KEPT.iter_unpack, self._kept.pieces()))

    def _placed(self, beats: MidiBeats) -> Iterator[tuple[int, bytes]]:
        """The same in the beats of the file; the values of a note stay before it there too."""
        if beats is self._beats:
            yield from self._messages()
            return
        before = last = 0
        for index, (tick, data) in enumerate(self._messages()):
            placed = max(last, beats.tick(self._beats.time_s(tick)))
            if index and tick > before and is_note_on(data):
                placed = max(placed, last + 1)
            yield placed, data
            before, last = tick, placed

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
                until = max(min(last.held_tick, tick - 1), self._last_tick)
                for data in last.messages if last.tick < until < tick else ():
                    self._append(until, data)
            self._drawn[lane] = _Drawn(messages, now, now)

    def _put(self, items: Iterable[Outgoing]) -> None:
        for item in items:
            for data in item.messages:
                self._append(self._tick, data)

    def _append(self, tick: int, data: bytes) -> None:
        self._kept.append(_KEPT.pack(tick, data))
        self._last_tick = tick

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _saved(tracks: list[list[mido.MetaMessage | mido.Message]]) -> bytes:
    """A whole file of short tracks."""
    data = io.BytesIO()
    mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8", tracks=tracks).save(file=data)
    return data.getvalue()


def _in_track(messages: Iterable[tuple[int, bytes]], status: int | None) -> Iterator[bytes]:
    """Messages as a track holds them; ``status`` is the first byte of the one before, which is not said again."""
    last = 0
    for tick, data in messages:
        same, end = data[0] == status, 2 if data[0] & 0xF0 in _SHORT else 3
        yield _ticks(tick - last) + data[same:end]
        status, last = data[0], tick


@lru_cache
def _ticks(count: int) -> bytes:
    """How long after the last message, as a quantity of variable length. Raises ValueError for one below 0."""
    return bytes(encode_variable_int(count))
