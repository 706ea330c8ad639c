"""The process that writes a live take, so that a slow disk never holds up the sound."""

from __future__ import annotations

import os
import struct
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from math import inf, isinf
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from bridge.base.commands import ChangeHarp
from bridge.base.errors import OWN_FAULT
from bridge.base.events import AudioBlock, Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.base.handoff import HandOff
from bridge.base.records import RECORD_BYTES, Record, Saying, TakeStopped, TappedTempo, decode, encode
from bridge.capture.source import Source
from bridge.send.pitch import SentPitch, sent_pitch
from bridge.takes.edited import Tempo
from bridge.takes.folder import TakeFolder, new_take
from bridge.takes.writer import TakeWriter
from bridge.wiring.harps import HarpSet
from bridge.wiring.helper_faults import fault_kept
from bridge.wiring.settings import Settings
from bridge.wiring.steady import ignore_signals, signals_held
from bridge.wiring.take_making import open_take

#: Room for about ten seconds of the densest stream of events, and of sound in portions of so many samples.
_EVENT_RECORDS = 16384
_SOUND_S = 10.0
_SOUND_SAMPLES = 512
_NOTICE_RECORDS = 16
_POLL_S = 0.01
#: Loading its libraries takes the writer half a second; a machine that is busy several.
_OPENING_S = 20.0
_READ_S = 0.02
#: Before other programs, where the system allows it.
_NICER = -10
#: Deriving the files of a long take lasts some seconds; beyond this something hangs and the player is told.
_PATIENCE_S = 120.0
#: What the writer says, in no words, once all files that grow are open.
_OPEN = Saying("")
#: Exit status of a writer that has told of its trouble itself.
_TOLD = 3

_PLACE = struct.Struct("<q")


@dataclass(frozen=True, slots=True)
class TakeSetup:
    """What the process needs to begin the take, on the first of ``harps``; ``parent`` is the process it ends with."""

    settings: Settings
    harps: HarpSet
    source: str
    folder: TakeFolder
    rate: int
    parent: int


class TakeProcess:
    """A take that another process writes. ``add`` and ``add_sound`` never raise for want of disk.

    With ``patient`` they wait while the writer is behind (for sound that is not live); otherwise what finds no room
    is lost and counted. ``notice`` hears of trouble in one line; ``stopped`` says from when on nothing is kept any more
    and why, None as long as all is.
    """

    def __init__(self, setup: TakeSetup, notice: Callable[[str], None], *, patient: bool) -> None:
        self.folder = setup.folder.path
        self.stopped: TakeStopped | None = None
        self._rate = setup.rate
        self._notice = notice
        self._patient = patient
        self._portion = np.zeros(_SOUND_SAMPLES, np.float32)
        self._first = 0
        self._filled = 0
        self._gone = False
        self._answered = False
        self._finished = False
        self._events = HandOff(RECORD_BYTES, _EVENT_RECORDS)
        portions = round(_SOUND_S * setup.rate / _SOUND_SAMPLES)
        self._sound = HandOff(_PLACE.size + self._portion.nbytes, portions)
        self._notices = HandOff(RECORD_BYTES, _NOTICE_RECORDS)
        self._process = get_context("spawn").Process(
            target=_write, args=(setup, self._events, self._sound, self._notices), name="reedwire-take"
        )
        with signals_held():
            self._process.start()

    @property
    def lost(self) -> int:
        """Records that found no room so far."""
        return self._events.lost + self._sound.lost

    @property
    def complete(self) -> bool:
        """Whether every file of the take has been written; only after :meth:`finish`."""
        return self._finished and self._process.exitcode == 0

    def add(self, event: Event) -> None:
        """Keep an event."""
        self._push_event(encode(event))

    def change_harp(self, wanted: str) -> None:
        """From the next note on another harp is played, named by its place in the set or by its key."""
        self._push_event(encode(ChangeHarp(wanted)))

    def use_tempo(self, quarters_per_minute: float, bar_1_s: float) -> None:
        """The player has tapped a tempo: quarters a minute, and where bar 1 begins in seconds of the stream."""
        self._push_event(encode(TappedTempo(quarters_per_minute, bar_1_s)))

    def add_sound(self, block: AudioBlock) -> None:
        """Keep a block of sound, of the rate of the take."""
        if block.start != self._first + self._filled:
            self._push_sound()
            self._first = block.start
        samples = block.samples
        while len(samples):
            part = samples[: _SOUND_SAMPLES - self._filled]
            self._portion[self._filled : self._filled + len(part)] = part
            self._filled += len(part)
            samples = samples[len(part) :]
            if self._filled == _SOUND_SAMPLES:
                self._push_sound()

    def wait_until_open(self, source: Source) -> None:
        """Wait until what is played is safe; what a sound card hears meanwhile is nobody's playing yet, and goes.

        A writer that cannot begin says so, one that hangs is waited for 20 s: then the playing goes on without it.
        """
        give_up_s = time.monotonic() + _OPENING_S
        while not self._answered and not self._gone and time.monotonic() < give_up_s:
            if source.endless:
                source.read(_READ_S)
            else:
                time.sleep(_READ_S)
            self.watch()

    def watch(self) -> None:
        """Between blocks: pass on what the writer has to say, and tell once when it is gone."""
        for data in self._notices.drain():
            self._answered = True
            word = decode(data)
            if isinstance(word, TakeStopped):
                self.stopped = word
                self._notice(self._stopped_words(word))
        status = self._process.exitcode
        if not self._gone and status:
            self._gone = True
            if self.stopped is None:
                self.stopped = TakeStopped(self._first / self._rate, _ended_words(status))
                self._notice("The take's writer ended early: what it had written until then is kept.")

    def finish(self) -> None:
        """Let the writer write all there is and derive the files; calling it again does nothing."""
        if self._finished:
            return
        self._push_sound()
        self._sound.end()
        self._events.end()
        self._process.join(_PATIENCE_S)
        self._finished = True
        self.watch()
        if self._process.is_alive():
            self._notice("The take is still being written; it goes on in the background.")

    def _stopped_words(self, stopped: TakeStopped) -> str:
        """What to say at once of a take that stops."""
        if isinf(stopped.at_s):
            return f"Not every file of the take in {self.folder} could be written: {stopped.why}."
        return f"The take in {self.folder} stops here: {stopped.why}. The playing goes on."

    def _push_event(self, data: bytes) -> None:
        if self._has_room(self._events):
            self._events.push(data)

    def _push_sound(self) -> None:
        """Hand on the sound gathered so far."""
        if self._filled and self._has_room(self._sound):
            self._sound.push(_PLACE.pack(self._first), self._portion[: self._filled].data)
        self._first += self._filled
        self._filled = 0

    def _has_room(self, ring: HandOff) -> bool:
        """Whether to push: wait for room if patient, and bring nothing to a writer that is gone."""
        while self._patient and ring.waiting >= ring.capacity and self._process.is_alive():
            time.sleep(_POLL_S / 10)
        return not self._gone


def begin_take(
    settings: Settings, harps: HarpSet, source: Source, parent: Path, notice: Callable[[str], None]
) -> TakeProcess:
    """The process that writes a take of ``source``, which is open, in a new folder named after the time."""
    folder = new_take(parent, time.strftime("%Y-%m-%d-%H%M%S"))
    setup = TakeSetup(settings, harps, source.name, folder, source.rate, os.getpid())
    return TakeProcess(setup, notice, patient=not source.live)


def _write(setup: TakeSetup, events: HandOff, sound: HandOff, notices: HandOff) -> None:
    """Be the process: write until told that nothing more comes, or the parent is gone."""
    ignore_signals()
    with suppress(OSError):
        # What a busy machine does not let it fetch is lost in a crash; the engine goes before it all the same.
        os.nice(_NICER)
    with fault_kept("take"):
        _keep(setup, events, sound, notices)


def _keep(setup: TakeSetup, events: HandOff, sound: HandOff, notices: HandOff) -> None:
    """Write the take; a disk that takes no more is told, and what comes after that goes nowhere."""
    mover = _Mover(setup, events, sound)
    try:
        held = setup.harps.harps[0]
        pitch = sent_pitch(setup.settings.send, held.harp.sharp_cents)
        take = open_take(setup.settings, held, setup.source, setup.folder, pitch, live=True, rate=setup.rate)
        with take:
            notices.push(encode(_OPEN))
            while not (events.ended and sound.ended) and os.getppid() == setup.parent:
                time.sleep(_POLL_S)
                mover.move(take, pitch)
            mover.move(take, pitch)
            mover.kept_s = inf
    except OSError as error:
        notices.push(encode(TakeStopped(mover.kept_s, error.strerror or str(error))))
        # Taking what comes keeps a patient producer from waiting for a writer that has nothing to write to.
        while not (events.ended and sound.ended) and os.getppid() == setup.parent:
            time.sleep(_POLL_S)
            for ring in (sound, events):
                for _ in ring.drain():
                    pass
        sys.exit(_TOLD)


class _Mover:
    """Brings what comes into the take; ``kept_s`` is up to where in the stream it has done so, in seconds."""

    def __init__(self, setup: TakeSetup, events: HandOff, sound: HandOff) -> None:
        self.kept_s = 0.0
        self._setup = setup
        self._events = events
        self._sound = sound

    def move(self, take: TakeWriter, pitch: SentPitch) -> None:
        """Take what both rings hold at the moment."""
        for data in self._sound.drain():
            (start,) = _PLACE.unpack_from(data)
            samples = np.frombuffer(data, np.float32, offset=_PLACE.size)
            take.add_sound(AudioBlock(start, self._setup.rate, samples))
            self.kept_s = (start + len(samples)) / self._setup.rate
        for data in self._events.drain():
            self._add(decode(data), take, pitch)

    def _add(self, event: Record, take: TakeWriter, pitch: SentPitch) -> None:
        """Take an event, or what the player has said."""
        if isinstance(event, PitchPoint | NoteOn | Inflection | NoteOff):
            take.add(event)
        elif isinstance(event, ChangeHarp):
            held = self._setup.harps.find(event.harp, self._setup.harps.harps[0])
            pitch.tune_to(held.harp.sharp_cents)
            take.use_harp(None if held.sought else held.harp, held.facts())
        elif isinstance(event, TappedTempo):
            quarters = self._setup.settings.takes.quarters_in_bar
            take.use_tempo(Tempo(event.quarters_per_minute, event.bar_1_s, quarters))


def _ended_words(status: int) -> str:
    """Why a writer has ended that said nothing of it, by its exit status, which is not 0."""
    if status == OWN_FAULT:
        return "its writer had a fault of reedwire itself"
    return f"its writer was ended by signal {-status}" if status < 0 else f"its writer ended with status {status}"
