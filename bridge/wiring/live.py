"""The live performance: sound in, notes out, until it ends, and everything closed in reverse order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.base.clock import SystemClock, WallClock
from bridge.base.commands import Arm, ChangeHarp, Command, HearClicks, Panic, Quiet, Stop, Tap
from bridge.base.errors import UserError
from bridge.base.events import AudioBlock, Status
from bridge.base.records import TakeStopped
from bridge.capture.source import Source
from bridge.send.output import Outputs
from bridge.wiring.chain import Chain
from bridge.wiring.clicks_back import ClicksHearer
from bridge.wiring.command_input import CommandInput
from bridge.wiring.displays import Display, Displays
from bridge.wiring.harps import HeldHarp
from bridge.wiring.learning import Learning
from bridge.wiring.live_timing import LiveTiming
from bridge.wiring.notice import Notice
from bridge.wiring.on_harp import third_trouble
from bridge.wiring.settings import Settings
from bridge.wiring.steady import StopRequest, steady_engine, stop_on_signals
from bridge.wiring.take_process import TakeProcess, begin_take
from bridge.wiring.tapping import Tapping

_READ_TIMEOUT_S = 0.05
_STATUS_S = 0.25
#: No sound at all for so long, in seconds, and what sounds is ended: longer than the longest block (4096 at 8 kHz).
_SILENT_S = 0.75
#: What a model leaves in room and loudspeaker is over after this, in seconds.
_TAIL_S = 0.2
_HOWLS = "The loudspeaker howls: turn it down, or move the microphone away from it."


@dataclass(frozen=True, slots=True)
class LiveReport:
    """What came of a performance.

    ``lost`` counts records that did not reach the take, ``missed_s`` is the sound that did not reach the engine, in
    seconds, ``dropouts`` how often the sound system said that it could not keep up itself; ``complete`` is False for a
    take not written to its end, ``stopped`` says from when on and why, where that is known; ``broke_off`` is True when
    a stream that should never end has ended, ``timing`` how soon the sound was answered.
    """

    notes: int
    seconds: float
    folder: Path | None
    lost: int = 0
    missed_s: float = 0.0
    dropouts: int = 0
    complete: bool = True
    stopped: TakeStopped | None = None
    broke_off: bool = False
    timing: LiveTiming | None = None

    @property
    def failed(self) -> bool:
        """Whether it ended otherwise than the player may expect."""
        return self.broke_off or not self.complete


def run_live(
    settings: Settings,
    *,
    source: Source,
    outputs: Outputs,
    displays: Sequence[Display] = (),
    take: Path | None,
    seconds: float | None = None,
    inputs: Sequence[CommandInput] = (),
    notice: Notice = lambda _: None,
    clock: WallClock | None = None,
    stop: StopRequest | None = None,
    begun: Callable[[], None] = lambda: None,
) -> LiveReport:
    """Follow ``source`` until it ends, ``seconds`` have passed, or a signal or command asks to stop.

    ``take`` is the folder in which a new take folder is made, ``stop`` the request of a ``stop_on_signals`` around the
    call; ``begun`` is called once all is open. Whatever happens, what sounds is ended and everything closed, the take
    finished. Raises UserError for what cannot be opened.
    """
    clock = clock or SystemClock()
    with ExitStack() as opened:
        stop = stop or opened.enter_context(stop_on_signals())
        # First what takes its time: sound that waited for a MIDI port would come late.
        opened.callback(outputs.close)
        outputs.open()
        for commands in inputs:
            opened.callback(commands.close)
            commands.open()
        opened.enter_context(source)
        chain = Chain(settings, source.rate)
        writer = begin_take(settings, chain.harps, source, take, notice) if take is not None else None
        if writer is not None:
            opened.callback(writer.finish)
            writer.wait_until_open(source)
        # Before what ends the notes, as all is closed in reverse order: no note waits for a question.
        learning = opened.enter_context(Learning(settings, chain, notice, patient=not source.live))
        # Also here, so that a synth does not wait for the take to be finished; closing twice does nothing.
        opened.callback(outputs.close)
        opened.callback(chain.finish)
        # Nothing can be refused any more; what this starts must not take over the engine's priority.
        begun()
        timing = LiveTiming(settings.capture.block / source.rate)
        performance = _Performance(settings, chain, outputs, Displays(displays), writer, source, timing, notice)
        opened.enter_context(steady_engine(notice, live=source.live))
        broke_off = _play(performance, source, clock, timing, inputs, learning, stop, seconds)
    if broke_off:
        notice(f"The sound input {source.name} went away. Check its plug, then begin again.")
    report = LiveReport(
        chain.notes,
        chain.now_s,
        None,
        missed_s=source.lost / source.rate,
        dropouts=source.dropouts,
        broke_off=broke_off,
    )
    if timing.sent.count:
        report = replace(report, timing=timing)
    if writer is None:
        return report
    return replace(report, folder=writer.folder, lost=writer.lost, complete=writer.complete, stopped=writer.stopped)


def _play(
    performance: _Performance,
    source: Source,
    clock: WallClock,
    timing: LiveTiming,
    inputs: Sequence[CommandInput],
    learning: Learning,
    stop: StopRequest,
    seconds: float | None,
) -> bool:
    """Be the worker until something ends it; whether that was a stream which should never end."""
    end_s = float("inf") if seconds is None else seconds
    idle_s, heard_at = 0.0, clock.now()
    # Time passes even while a sound card gives nothing; the block that comes then counts in its place.
    while not (stop.wanted or performance.stopped) and performance.now_s + idle_s < end_s:
        block = source.read(_READ_TIMEOUT_S)
        if block is None:
            return source.endless
        began_s = clock.now()
        if len(block.samples):
            heard_at = began_s
        idle_s = began_s - heard_at
        performance.hear(block, idle_s, min(source.calls_s, default=began_s))
        timing.count(source.calls_s, began_s, clock.now(), len(block.samples) / block.rate)
        for commands in inputs:
            performance.obey(commands.poll())
        performance.attend(clock.now())
        learning.attend()
    return False


class _Performance:
    """Obeys commands and keeps the displays informed."""

    def __init__(
        self,
        settings: Settings,
        chain: Chain,
        outputs: Outputs,
        displays: Displays,
        writer: TakeProcess | None,
        source: Source,
        timing: LiveTiming,
        notice: Notice,
    ) -> None:
        self._settings = settings
        self._timing = timing
        self._chain = chain
        self._outputs = outputs
        self._displays = displays
        self._writer = writer
        self._source = source
        self._notice = notice
        self._told: set[str] = set()
        self._status_due_s = 0.0
        self._silent = False
        self._clicks = ClicksHearer()
        self._tapping = Tapping(writer, notice)
        self.stopped = False
        chain.add_player(outputs.send)
        chain.add_harp_hearer(self._take_up)
        if writer is not None:
            chain.add_watcher(writer.add)
        chain.add_watcher(displays.push)
        self._mind_third()

    @property
    def now_s(self) -> float:
        """Stream time heard so far, in seconds."""
        return self._chain.now_s

    def hear(self, block: AudioBlock, idle_s: float, came_s: float) -> None:
        """Answer a block of sound that came in at ``came_s``, the first after ``idle_s`` without any; then keep it."""
        self._displays.came(came_s)
        self._chain.feed(block)
        if (back := self._clicks.hear(block)) is not None:
            self._displays.push(back)
        if idle_s > _SILENT_S and not self._silent:
            # The sound card gives nothing any more: what sounds would hang until it does.
            self._chain.finish()
        self._silent = idle_s > _SILENT_S
        if self._writer is not None:
            self._writer.add_sound(block)

    @property
    def lost(self) -> int:
        """All that was lost so far: samples and times on the way in, records between the engine and the take."""
        missed = self._source.lost + self._source.dropouts
        return missed + (self._writer.lost if self._writer is not None else 0)

    def attend(self, clock_s: float) -> None:
        """Between blocks: ports, keys, notices, and the status that the performer must see."""
        self._outputs.attend(clock_s)
        if self._writer is not None:
            self._writer.watch()
        if self._source.lost:
            self._tell_once("Sound from the input was lost: the machine was too busy. Close other programs.")
        if self._source.dropouts:
            self._tell_once("The sound system cannot keep up, some sound may be lost. Close other programs.")
        if self._chain.howling:
            self._tell_once(_HOWLS)
        else:
            self._told.discard(_HOWLS)
        if self._source.repaired:
            self._tell_once("The sound input gave values that are no numbers; they became silence.")
        self.obey(self._displays.poll_commands())
        if self._chain.now_s >= self._status_due_s:
            self._tell_status()

    def obey(self, commands: Sequence[Command]) -> None:
        """Do what was asked for, in order."""
        for command in commands:
            match command:
                case Arm(armed=armed):
                    self._chain.arm(armed=not self._chain.armed if armed is None else armed)
                case ChangeHarp(harp):
                    self._change_harp(harp)
                case Quiet(sounding):
                    self._chain.pause(sounding=sounding, tail_s=_TAIL_S)
                case HearClicks():
                    self._clicks.begin(command)
                case Panic():
                    self._chain.finish()
                    self._outputs.panic()
                case Stop():
                    self.stopped = True
                case Tap():
                    self._tapping.tap(self._chain.now_s)
            self._status_due_s = 0.0

    def _change_harp(self, wanted: str) -> None:
        try:
            self._chain.change_harp(wanted)
        except UserError as error:
            self._notice(str(error))

    def _take_up(self, held: HeldHarp) -> None:
        """Tell all who must know of the harp that the chain has changed to."""
        self._outputs.tune_to(held.harp.sharp_cents)
        if self._writer is not None:
            self._writer.change_harp(held.word if held.file is None else str(self._chain.place))
        self._mind_third()
        self._status_due_s = 0.0

    def _mind_third(self) -> None:
        """Say what the player must know of the straight third, if anything."""
        trouble = third_trouble(self._settings, self._chain.held)
        if trouble is not None:
            self._tell_once(trouble)

    def _tell_once(self, text: str) -> None:
        if text not in self._told:
            self._told.add(text)
            self._notice(text)

    def _tell_status(self) -> None:
        self._status_due_s = self._chain.now_s + _STATUS_S
        chain, harp = self._chain, self._chain.harp
        sought = chain.held.sought
        name = chain.held.name if sought else harp.name
        stopped = self._writer.stopped if self._writer is not None else None
        told = (chain.straight_cents, harp.a4_hz, sought, *self._timing.told(), stopped.at_s if stopped else None)
        self._displays.push(Status(chain.now_s, chain.armed, name, self.lost, chain.place, *told))
