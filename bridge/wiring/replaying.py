"""A take sent live: each event at its time by the wall clock, and everything ended and closed whatever happens."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from types import TracebackType
from typing import Protocol

from bridge.base.clock import WallClock
from bridge.base.commands import Command, Panic, Stop
from bridge.base.events import Event, NoteOff, NoteOn
from bridge.send.output import Outputs
from bridge.takes.replayed import Tuned
from bridge.wiring.notice import Notice
from bridge.wiring.steady import StopRequest, steady_engine

#: Ports, keys and signals are looked after so often, in seconds; what is due comes first.
_ATTEND_S = 0.02
#: From all being open to the first event: time for a synth to take in its bend range, in seconds.
_LEAD_S = 0.1
#: A sound card that has not begun after this long, in seconds, is not waited for.
_SOUND_S = 2.0
#: Later than this, as after a machine that slept, nothing is caught up with: it goes on from there, in seconds.
_STALLED_S = 0.5
_AWAY = "The machine was away for {:.1f} s: the take goes on where it was."


class Sounding(Protocol):
    """The sound of a take that plays along."""

    def __enter__(self) -> object:
        """Begin to play, soon."""
        ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Fall silent."""
        ...

    def begun_s(self) -> float | None:
        """When its beginning is heard, on the monotonic clock, as exactly as known by now; None before that."""
        ...

    def trouble(self, now_s: float) -> str | None:
        """What is wrong with it, in one line; None if nothing is."""
        ...


class Orders(Protocol):
    """Where what the player asks for comes from, without waiting: keys."""

    def commands(self) -> list[Command]:
        """What was asked for since the last call."""
        ...


@dataclass(slots=True)
class Progress:
    """Where a replay is: seconds sent so far, notes begun, and the last one's MIDI note while it sounds."""

    sent_s: float = 0.0
    notes: int = 0
    sounding: int | None = None
    stopped: bool = False


class Replay:
    """Sends ``events``, whose times count from 0 s, to ``outputs``; ``progress`` may be looked at meanwhile.

    ``sound`` plays along and is then the clock, so that both stay together for hours.
    """

    def __init__(
        self,
        events: Iterable[Event | Tuned],
        outputs: Outputs,
        clock: WallClock,
        stop: StopRequest,
        *,
        orders: Sequence[Orders] = (),
        sound: Sounding | None = None,
        notice: Notice = lambda _: None,
    ) -> None:
        self.progress = Progress()
        self._events = events
        self._outputs = outputs
        self._clock = clock
        self._stop = stop
        self._orders = orders
        self._sound = sound
        self._notice = notice
        self._told: set[str] = set()
        self._begin_s = 0.0
        self._attend_s = 0.0

    def run(self, length_s: float, begun: Callable[[], None] = lambda: None) -> Progress:
        """Send all of it, or until it is asked to stop; ``begun`` is called once all is open.

        It lasts ``length_s`` at least, so that the last rest is waited for. Whatever happens, what sounds is ended and
        the outputs are closed. Raises UserError for what cannot be opened.
        """
        with ExitStack() as opened:
            opened.callback(self._outputs.close)
            self._outputs.open()
            begun()
            opened.enter_context(steady_engine(self._notice, live=True))
            if self._sound is not None:
                opened.enter_context(self._sound)
            # What sounds is ended before the sound card is closed, which may take its time.
            opened.callback(self._outputs.close)
            self._begin_s = self._clock.now() + _LEAD_S
            self._wait_for_sound()
            self._send_all(length_s)
        return self.progress

    def _wait_for_sound(self) -> None:
        """Let the sound begin, if there is any and it does."""
        until_s = self._begin_s + _SOUND_S
        while self._sound is not None and self._sound.begun_s() is None and self._clock.now() < until_s:
            self._clock.sleep(_ATTEND_S)

    def _send_all(self, length_s: float) -> None:
        for event in self._events:
            if not self._wait_until(event.time_s):
                return
            if isinstance(event, Tuned):
                self._outputs.tune_to(event.sharp_cents)
                continue
            self._outputs.send(event)
            match event:
                case NoteOn():
                    self.progress.notes += 1
                    self.progress.sounding = event.midi_note
                case NoteOff():
                    self.progress.sounding = None
        self._wait_until(length_s)

    def _wait_until(self, time_s: float) -> bool:
        """Wait for a moment of the sending, seeing to everything else meanwhile; False when it is asked to stop."""
        while True:
            now = self._clock.now()
            if now >= self._attend_s:
                self._attend(now)
            if self._stop.wanted or self.progress.stopped:
                self.progress.stopped = True
                return False
            left_s = self._begin_s + time_s - now
            if left_s <= 0.0:
                self._go_on_from(-left_s)
                self.progress.sent_s = time_s
                return True
            self._clock.sleep(min(left_s, self._attend_s - now))

    def _attend(self, now: float) -> None:
        self._attend_s = now + _ATTEND_S
        self._outputs.attend(now)
        self.progress.sent_s = max(self.progress.sent_s, now - self._begin_s)
        for orders in self._orders:
            self._obey(orders.commands())
        if self._sound is None:
            return
        begun_s = self._sound.begun_s()
        if begun_s is not None:
            self._begin_s = begun_s
        trouble = self._sound.trouble(now)
        if trouble is not None:
            self._tell_once(trouble)

    def _obey(self, commands: Iterable[Command]) -> None:
        for command in commands:
            match command:
                case Stop():
                    self.progress.stopped = True
                case Panic():
                    self._outputs.panic()
                case _:
                    pass

    def _go_on_from(self, late_s: float) -> None:
        """Let what is late this much be the present, if it is too late to be caught up with."""
        if late_s > _STALLED_S and self._sound is None:
            self._begin_s += late_s
            self._notice(_AWAY.format(late_s))

    def _tell_once(self, text: str) -> None:
        if text not in self._told:
            self._told.add(text)
            self._notice(text)
