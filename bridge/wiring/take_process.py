"""The process that writes a live take, so that a slow disk never holds up the sound."""

from __future__ import annotations

import os
import signal
import struct
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np

from bridge.base.events import AudioBlock, Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.handoff import HandOff
from bridge.base.records import RECORD_BYTES, Saying, decode, encode
from bridge.harp.harp import Harp
from bridge.takes.folder import TakeFolder
from bridge.wiring.settings import Settings
from bridge.wiring.take_making import open_take

#: About ten seconds of the densest stream of events, and of sound in portions of 512 samples at 48 kHz.
_EVENT_RECORDS = 16384
_SOUND_RECORDS = 1024
_SOUND_SAMPLES = 512
_NOTICE_RECORDS = 16
_POLL_S = 0.01
#: Deriving the files of a long take lasts some seconds; beyond this something hangs and the player is told.
_PATIENCE_S = 120.0

_PLACE = struct.Struct("<qi")


@dataclass(frozen=True, slots=True)
class TakeSetup:
    """What the process needs to begin the take; ``parent`` is the process it ends with."""

    settings: Settings
    harp: Harp
    source: str
    folder: TakeFolder
    rate: int
    parent: int


class TakeProcess:
    """A take that another process writes. ``add`` and ``add_sound`` never raise for want of disk.

    With ``patient`` they wait while the writer is behind (for sound that is not live); otherwise what finds no room
    is lost and counted. ``notice`` hears of trouble in one line.
    """

    def __init__(self, setup: TakeSetup, notice: Callable[[str], None], *, patient: bool) -> None:
        self.folder = setup.folder.path
        self._notice = notice
        self._patient = patient
        self._events = HandOff(RECORD_BYTES, _EVENT_RECORDS)
        self._sound = HandOff(_PLACE.size + 4 * _SOUND_SAMPLES, _SOUND_RECORDS)
        self._notices = HandOff(RECORD_BYTES, _NOTICE_RECORDS)
        self._process = get_context("spawn").Process(
            target=_write, args=(setup, self._events, self._sound, self._notices), name="reedwire-take"
        )
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            self._process.start()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)

    @property
    def lost(self) -> int:
        """Records that found no room so far."""
        return self._events.lost + self._sound.lost

    def add(self, event: Event) -> None:
        """Keep an event."""
        self._wait_for_room(self._events)
        self._events.push(encode(event))

    def add_sound(self, block: AudioBlock) -> None:
        """Keep a block of sound."""
        for first in range(0, len(block.samples), _SOUND_SAMPLES):
            self._wait_for_room(self._sound)
            part = np.ascontiguousarray(block.samples[first : first + _SOUND_SAMPLES])
            self._sound.push(_PLACE.pack(block.start + first, block.rate), part.data)

    def poll_notices(self) -> None:
        """Pass on what the writer has to say."""
        for data in self._notices.drain():
            saying = decode(data)
            if isinstance(saying, Saying):
                self._notice(saying.text)

    def finish(self) -> None:
        """Let the writer write all there is and derive the files; calling it again does nothing."""
        if self._events.ended and not self._process.is_alive():
            return
        self._sound.end()
        self._events.end()
        self._process.join(_PATIENCE_S)
        self.poll_notices()
        if self._process.is_alive():
            self._notice("The take is still being written; it goes on in the background.")
        elif self._process.exitcode != 0:
            self._notice("The take's writer ended early: what was appended until then is kept.")

    def _wait_for_room(self, ring: HandOff) -> None:
        while self._patient and ring.waiting >= ring.capacity and self._process.is_alive():
            time.sleep(_POLL_S / 10)


def _write(setup: TakeSetup, events: HandOff, sound: HandOff, notices: HandOff) -> None:
    """Be the process: write until told that nothing more comes, or the parent is gone."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN)
    try:
        take = open_take(setup.settings, setup.harp, setup.source, setup.folder, live=True, rate=setup.rate)
        with take:
            while not (events.ended and sound.ended) and os.getppid() == setup.parent:
                time.sleep(_POLL_S)
                _move(events, sound, take.add, take.add_sound)
            _move(events, sound, take.add, take.add_sound)
    except OSError as error:
        text = f"The take in {setup.folder.path} stops here: {error.strerror}. The playing goes on."
        notices.push(encode(Saying(text)))
        # Taking what comes keeps a patient producer from waiting for a writer that has nothing to write to.
        while not (events.ended and sound.ended) and os.getppid() == setup.parent:
            time.sleep(_POLL_S)
            _move(events, sound, lambda _: None, lambda _: None)


def _move(
    events: HandOff, sound: HandOff, add: Callable[[Event], None], add_sound: Callable[[AudioBlock], None]
) -> None:
    """Take what both rings hold at the moment."""
    for data in sound.drain():
        start, rate = _PLACE.unpack_from(data)
        add_sound(AudioBlock(start, rate, np.frombuffer(data, np.float32, offset=_PLACE.size)))
    for data in events.drain():
        event = decode(data)
        if isinstance(event, PitchPoint | NoteOn | Inflection | NoteOff):
            add(event)
