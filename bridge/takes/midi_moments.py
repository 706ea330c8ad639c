"""What happens in a Standard MIDI File, tick after tick, formats 0 and 1 with any tempo map and number of tracks.

Source: Standard MIDI Files 1.0 (RP-001). Messages are read by mido, but one at a time, each track from its own place in
the file and a few kilobytes at once: as lists, those of an hour fill a gigabyte. What is no message of a channel and no
tempo, texts and system exclusive ones among them, is only passed over.
"""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from heapq import merge
from itertools import groupby
from pathlib import Path
from typing import Any, BinaryIO

import mido
from mido.midifiles import midifiles as reading

from bridge.base.errors import UserError
from bridge.base.progress import Progress, nobody
from bridge.takes.file_part import BUFFER_BYTES, file_part

_PLAIN_US = 500_000
_MICROSECONDS = 1e6
_FIRST_STATUS, _SYSTEM, _META = 0x80, 0xF0, 0xFF
_EXCLUSIVE = (0xF0, 0xF7)
_TEMPO, _TEMPO_BYTES = 0x51, 3
#: What every header begins with: its name, its length, and three numbers of two bytes.
_HEADER_BYTES = 14
#: So many moments lie between two words on how far one is.
_TOLD_EACH = 1000


class MidiMoments:
    """A Standard MIDI File as its moments: the time of each in seconds, and all messages at that tick, in order.

    ``progress`` is told the part gone through, 0..1. Raises UserError on the way for what is no such file.
    """

    def __init__(self, path: Path, progress: Progress = nobody) -> None:
        self._path, self._progress = path, progress
        self._per_quarter = 1
        self._slowest_us = 0

    @property
    def tick_s(self) -> float:
        """How long a tick is at most, in seconds, as far as one has gone through the file."""
        return (self._slowest_us or _PLAIN_US) / _MICROSECONDS / self._per_quarter

    def __iter__(self) -> Iterator[tuple[float, list[Any]]]:
        with _told(self._path), self._path.open("rb") as file:
            size = os.fstat(file.fileno()).st_size
            kind, count, per_quarter = reading.read_file_header(io.BytesIO(file.read(_HEADER_BYTES)))
            if kind not in {0, 1} or per_quarter <= 0:
                raise UserError(
                    f"{self._path}: found a file of format {kind}, allowed: 0 or 1, with ticks in a quarter."
                )
            self._per_quarter = int(per_quarter)
            tracks = [file_part(file.fileno(), *place) for place in _places(file, count, size)]
            # Stable: what stood in one track in an order stays in it, and the first track comes first.
            placed = merge(*map(_messages, tracks), key=lambda one: one[0])
            seconds, last, tempo_us = 0.0, 0, _PLAIN_US
            for number, (tick, group) in enumerate(groupby(placed, key=lambda one: one[0])):
                if number % _TOLD_EACH == 0:
                    self._progress(min(1.0, sum(track.tell() for track in tracks) / size))
                seconds += (tick - last) * tempo_us / _MICROSECONDS / self._per_quarter
                last = tick
                messages = [message for _, message in group]
                for message in messages:
                    if message.type == "set_tempo":
                        tempo_us = message.tempo
                        self._slowest_us = max(self._slowest_us, tempo_us)
                yield seconds, messages


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Whatever is wrong with the file is told with its name and what to do."""
    try:
        yield
    except OSError as error:
        # mido says so too of what is no MIDI file, then without a number.
        why = error.strerror or "it is no Standard MIDI File"
        raise UserError(f"{path} cannot be read ({why}). Give a MIDI file.") from error
    except (EOFError, ValueError, KeyError, IndexError) as error:
        why = str(error) or "it ends too soon"
        raise UserError(f"{path} is damaged or no Standard MIDI File ({why}). Save it again as MIDI.") from error


def _places(file: BinaryIO, count: int, size: int) -> list[tuple[int, int]]:
    """Where each of ``count`` tracks begins and ends; chunks of another kind, the header too, are passed over."""
    found: list[tuple[int, int]] = []
    end = 0
    while len(found) < count:
        file.seek(end)
        name, length = reading.read_chunk_header(file)
        begin = file.tell()
        end = begin + length
        if end > size:
            raise EOFError
        if name == b"MTrk":
            found.append((begin, end))
    return found


def _messages(track: io.BufferedReader) -> Iterator[tuple[int, Any]]:
    """The messages of a track, with their ticks from its beginning."""
    tick, running = 0, 0
    while track.peek(1):
        tick += reading.read_variable_int(track)
        status, ahead = reading.read_byte(track), []
        if status < _FIRST_STATUS:
            status, ahead = running, [status]
        if status == _META:
            yield tick, _meta(track)
        elif status in _EXCLUSIVE:
            _pass_over(track, reading.read_variable_int(track))
        elif status < _FIRST_STATUS:
            raise ValueError("a message without its status")
        else:
            running = status if status < _SYSTEM else running
            yield tick, reading.read_message(track, status, ahead, 0, clip=True)


def _meta(track: io.BufferedReader) -> Any:  # noqa: ANN401 -- mido has no type information
    """A message about the file: its tempo, or one of which only that it stands there is kept."""
    kind, size = reading.read_byte(track), reading.read_variable_int(track)
    if kind == _TEMPO and size == _TEMPO_BYTES:
        return mido.MetaMessage("set_tempo", tempo=int.from_bytes(reading.read_bytes(track, size), "big"))
    _pass_over(track, size)
    return mido.UnknownMetaMessage(kind)


def _pass_over(track: io.BufferedReader, size: int) -> None:
    """Go on by so many bytes, of which a damaged file may say any number."""
    while size > 0:
        passed = len(track.read(min(size, BUFFER_BYTES)))
        if not passed:
            raise EOFError
        size -= passed
