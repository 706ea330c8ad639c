"""A take sent live: each event at its time, ended whatever happens."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import Self

import pytest

from bridge.base.clock import ManualClock
from bridge.base.commands import Command, Panic, Stop
from bridge.base.events import Event, NoteOff, NoteOn, PitchPoint
from bridge.send.output import Outputs
from bridge.send.pitch import SentPitch
from bridge.takes.replayed import Ground, Reach, Tuned, replayed
from bridge.wiring.replaying import Replay
from bridge.wiring.steady import StopRequest, stop_on_signals
from takes.made_notes import edited
from wiring.stand_ins import Ear

GROUND = Ground(0.0, 67, 391.99544, -48.0, -9.0, None)
NOTES = [edited(1, 0.5, 1.0, 71), edited(2, 1.6, 0.4, 67)]


class TimedEar(Ear):
    """An ear that remembers when it heard what, and how long it was not attended to."""

    def __init__(self, clock: ManualClock) -> None:
        super().__init__()
        self.times: list[float] = []
        self.attended: list[float] = []
        self._clock = clock

    def send(self, event: Event) -> None:
        """Remember the time."""
        super().send(event)
        self.times.append(self._clock.now())

    def attend(self, now_s: float) -> None:
        """Remember it."""
        self.attended.append(now_s)


class Keys:
    """Keys that ask for something at the first look after a time."""

    def __init__(self, clock: ManualClock, at_s: float, command: Command) -> None:
        self._clock, self._at_s, self._command = clock, at_s, command

    def commands(self) -> list[Command]:
        """Once."""
        if self._clock.now() < self._at_s:
            return []
        self._at_s = float("inf")
        return [self._command]


class Card:
    """A sound that begins to be heard ``late_s`` after it is started, on a clock that runs ``drift`` too fast."""

    def __init__(self, clock: ManualClock, late_s: float = 0.3, drift: float = 0.0) -> None:
        self._clock, self._late_s, self._drift = clock, late_s, drift
        self._start_s: float | None = None
        self.closed = False

    def __enter__(self) -> Self:
        self._start_s = self._clock.now() + self._late_s
        return self

    def __exit__(self, *_: object) -> None:
        self.closed = True

    def begun_s(self) -> float | None:
        """As a sound card's own clock has it."""
        assert self._start_s is not None
        now = self._clock.now()
        if now < self._start_s - self._late_s + 0.05:
            return None
        return self._start_s - self._drift * max(0.0, now - self._start_s)

    def trouble(self, _now_s: float) -> str | None:
        """It has gaps."""
        return "The sound had gaps."


def replay(
    events: Iterable[Event | Tuned], clock: ManualClock, ear: Ear, *, stop: StopRequest | None = None, **more: object
) -> Replay:
    """A replay for that ear alone; an output that fails fails the test."""
    outputs = Outputs([ear], lambda name, error: pytest.fail(f"{name}: {error}"), SentPitch())
    return Replay(events, outputs, clock, stop or StopRequest(), **more)  # type: ignore[arg-type]


def test_each_event_goes_out_at_its_time_and_never_earlier() -> None:
    """By the clock from the beginning on, however often it was looked at meanwhile; the last rest is waited for."""
    clock = ManualClock(100.0)
    ear = TimedEar(clock)
    report = replay(replayed(NOTES, [GROUND], Reach(0.0, 2.5)), clock, ear).run(2.5)
    begun = ear.times[0] - ear.heard[0].time_s
    for event, sent_s in zip(ear.heard, ear.times, strict=True):
        assert sent_s == pytest.approx(begun + event.time_s, abs=1e-6)
    assert clock.now() == pytest.approx(begun + 2.5)
    assert (report.notes, report.sounding, report.stopped) == (2, None, False)
    assert ear.closed
    # The contract of Output.attend: at least every 50 ms.
    assert max(after - before for before, after in pairwise(ear.attended)) <= 0.05


@pytest.mark.parametrize("at_s", [100.2, 100.9, 101.62])
def test_a_key_ends_it_in_a_rest_and_in_a_note(at_s: float) -> None:
    """What sounds is for the outputs to end, which they do when they are closed; nothing is sent after that."""
    clock = ManualClock(100.0)
    ear = TimedEar(clock)
    report = replay(
        replayed(NOTES, [GROUND], Reach(0.0, 2.5, loop=True)), clock, ear, orders=[Keys(clock, at_s, Stop())]
    ).run(float("inf"))
    assert report.stopped
    assert clock.now() < at_s + 0.05
    assert ear.closed


def test_panic_silences_and_goes_on() -> None:
    """As on stage."""
    clock = ManualClock(100.0)
    ear = TimedEar(clock)
    report = replay(replayed(NOTES, [GROUND], Reach(0.0, 2.5)), clock, ear, orders=[Keys(clock, 100.9, Panic())]).run(
        2.5
    )
    assert (ear.panics, report.notes, report.stopped) == (1, 2, False)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT])
def test_a_signal_ends_it(number: signal.Signals) -> None:
    """Ctrl-C, the system, a closed terminal and Ctrl-backslash only ask."""
    clock = ManualClock(100.0)
    ear = TimedEar(clock)

    def with_signal() -> Iterator[Event | Tuned]:
        for event in replayed(NOTES, [GROUND], Reach(0.0, 2.5)):
            if isinstance(event, PitchPoint) and 1.0 < event.time_s < 1.01:
                os.kill(os.getpid(), number)
            yield event

    with stop_on_signals() as stop:
        report = replay(with_signal(), clock, ear, stop=stop).run(2.5)
    assert report.stopped
    assert [type(event) for event in ear.heard if isinstance(event, NoteOn | NoteOff)] == [NoteOn]
    assert ear.closed


def test_a_fault_on_the_way_ends_what_sounds() -> None:
    """Whatever it is, the outputs are closed."""
    clock = ManualClock(100.0)
    ear = TimedEar(clock)

    def broken() -> Iterator[Event | Tuned]:
        yield from list(replayed(NOTES, [GROUND], Reach(0.0, 2.5)))[:100]
        raise RuntimeError("gone wrong")

    with pytest.raises(RuntimeError, match="gone wrong"):
        replay(broken(), clock, ear).run(2.5)
    assert ear.closed


def test_the_sound_is_the_clock() -> None:
    """Events wait until it is heard and keep up with it: a card that runs 0.1 % fast is followed, not left behind."""
    clock = ManualClock(100.0)
    ear = TimedEar(clock)
    told: list[str] = []
    card = Card(clock, drift=1e-3)
    notes = [edited(number, float(number), 0.5, 71) for number in range(1, 60)]
    replay(replayed(notes, [GROUND], Reach(0.0, 60.0)), clock, ear, sound=card, notice=told.append).run(60.0)
    assert card.closed
    assert [text for text in told if "gaps" in text] == ["The sound had gaps."]
    for event, sent_s in zip(ear.heard, ear.times, strict=True):
        if isinstance(event, NoteOn):
            heard_s = 100.3 + event.time_s / (1.0 + 1e-3)
            assert sent_s == pytest.approx(heard_s, abs=0.002)


def test_a_machine_that_slept_goes_on_where_it_was() -> None:
    """What should have been sent meanwhile does not come as a heap; it is told."""
    clock = ManualClock(100.0)
    ear = TimedEar(clock)
    told: list[str] = []

    def sleeping() -> Iterator[Event | Tuned]:
        for event in replayed(NOTES, [GROUND], Reach(0.0, 2.5)):
            if isinstance(event, NoteOn) and event.time_s == 1.6:
                clock.sleep(60.0)
            yield event

    replay(sleeping(), clock, ear, notice=told.append).run(2.5)
    assert any("60.0 s" in text for text in told)
    ends = [sent_s for event, sent_s in zip(ear.heard, ear.times, strict=True) if isinstance(event, NoteOn | NoteOff)]
    assert ends[3] - ends[2] == pytest.approx(0.4, abs=1e-3)


def test_another_harp_is_tuned_to_before_its_note() -> None:
    """The pitch that the outputs share follows."""
    clock = ManualClock(100.0)
    pitch = SentPitch()
    outputs = Outputs([Ear()], lambda name, error: pytest.fail(f"{name}: {error}"), pitch)
    # 1200 * log2(394.26626 / 391.99544) = 10.0 cents.
    sharp = Ground(1.5, 67, 394.26626, -48.0, -9.0, None)
    Replay(replayed(NOTES, [GROUND, sharp], Reach(0.0, 2.5)), outputs, clock, StopRequest()).run(2.5)
    assert pitch.offset_cents == pytest.approx(10.0, abs=0.01)
