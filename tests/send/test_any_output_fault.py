"""Whatever call fails or whenever the port goes away, no note hangs."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event
from bridge.send.kept_port import PortNews
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_settings import MidiSettings
from bridge.send.output import WORKS_S, Outputs
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_off, note_on
from send.synth import Synth

_ERRORS = (OSError, RuntimeError, ValueError)
_STEP_S = 0.05


class FaultyPort:
    """A port whose calls fail by number, and that is gone for some of the times it is attended to.

    What is sent while it is gone is lost without a word, as it is in real life. The synth at its end goes on sounding.
    """

    def __init__(self, gone: frozenset[int] = frozenset()) -> None:
        self.failing, self.gone = frozenset[int](), gone
        self.calls = self.looks = self.closed = 0
        self.is_gone = False
        self.synth = Synth()
        self.ons, self.offs = list[tuple[int, int]](), list[tuple[int, int]]()

    def fail(self, calls: frozenset[int]) -> None:
        """Fail at these of the calls to come, the next one being number 1."""
        self.calls, self.failing = 0, calls

    def _call(self) -> None:
        self.calls += 1
        if self.calls in self.failing:
            raise _ERRORS[self.calls % len(_ERRORS)]("planned")

    def open(self) -> None:
        """Fail, or be open."""
        self._call()

    def send(self, data: bytes) -> None:
        """Fail, lose it, or let the synth hear it."""
        self._call()
        if self.is_gone:
            return
        if len(data) == 3:
            self.synth.hear(data)
            kept = {0x90: self.ons, 0x80: self.offs}.get(data[0] & 0xF0)
            if kept is not None:
                kept.append((data[0] & 0x0F, data[1]))

    def attend(self, _now_s: float) -> PortNews:
        """Fail, or say whether it went away or came back."""
        self._call()
        self.looks += 1
        before, self.is_gone = self.is_gone, self.looks in self.gone
        if before == self.is_gone:
            return PortNews.SAME
        return PortNews.GONE if self.is_gone else PortNews.BACK

    def close(self) -> None:
        """Fail, or be closed."""
        self._call()
        self.closed += 1


class Witness:
    """Another output, which must get everything."""

    name = "witness"

    def __init__(self) -> None:
        self.heard = list[Event]()
        self.panics = self.attended = 0
        self.closed = False

    def open(self) -> None:
        """Nothing to open."""

    def send(self, event: Event) -> None:
        """Remember it."""
        self.heard.append(event)

    def attend(self, _now_s: float) -> None:
        """Count it."""
        self.attended += 1

    def panic(self) -> None:
        """Count it."""
        self.panics += 1

    def close(self) -> None:
        """Be closed."""
        self.closed = True


def played(notes: list[tuple[int, int]]) -> list[Event]:
    """Notes one after the other, each of a number that moves so often and ends."""
    events: list[Event] = []
    for number, (midi_note, moves) in enumerate(notes):
        at_s = 0.3 * number
        events.append(note_on(at_s, number, midi_note, bend_cents=-10.0 * moves))
        events += [inflection(at_s + 0.02 * move, number, bend_cents=5.0 * move) for move in range(1, moves + 1)]
        events.append(note_off(at_s + 0.2, number))
    return events


_performances = st.lists(st.tuples(st.integers(60, 63), st.integers(0, 4)), min_size=1, max_size=15).map(played)
_events = _performances | any_events
_windows = st.tuples(st.integers(1, 120), st.integers(1, 60)).map(
    lambda window: frozenset(range(window[0], sum(window)))
)
_numbers = st.frozensets(st.integers(1, 150), min_size=1, max_size=40) | _windows
_settings = st.sampled_from(
    [MidiSettings(), MidiSettings.model_validate({"mode": "mpe", "members": 3}), MidiSettings(active_sensing=True)]
)


def play(outputs: Outputs, events: Sequence[Event], panics: frozenset[int], port: FaultyPort, start: int = 0) -> float:
    """Send all, attended to after each event, with a panic at some of them; the time at the end."""
    for number, event in enumerate(events):
        outputs.send(event)
        if number in panics:
            outputs.panic()
        outputs.attend(number * _STEP_S)
    # From here on the port works: it is there, and takes everything.
    port.failing = port.gone = frozenset()
    now_s = len(events) * _STEP_S
    outputs.attend(now_s)
    return now_s


@given(_events, _numbers, _numbers, st.frozensets(st.integers(0, 60), max_size=4), _settings, st.booleans())
def test_no_note_hangs_whatever_fails(
    events: list[Event],
    failing: frozenset[int],
    gone: frozenset[int],
    panics: frozenset[int],
    settings: MidiSettings,
    close_at_once: bool,
) -> None:
    """Every Note On that was received has its Note Off or a silencing message once the port works, and at closing.

    The other output gets everything, and each outage is told once.
    """
    port, witness, told = FaultyPort(gone), Witness(), list[str]()
    outputs = Outputs(
        [MidiOutput(settings, SentPitch(), port, port.attend), witness], lambda name, _error: told.append(name)
    )
    outputs.open()
    port.fail(failing)
    now_s = play(outputs, events, panics, port)
    if not close_at_once:
        outputs.attend(now_s + _STEP_S)
    if port.synth.sounding:
        # Only what the last event began may sound, and it is known: its Note Off has not come yet.
        assert len(port.synth.sounding) == 1
    outputs.close()
    assert port.synth.sounding == {}
    assert port.synth.bend.get(0, 8192) == 8192
    assert witness.heard == events
    assert witness.panics == sum(number in panics for number in range(len(events)))
    assert witness.attended == len(events) + 1 + (not close_at_once)
    assert witness.closed
    assert len(told) <= 1 + now_s / WORKS_S
    assert not told or set(told) == {"MIDI"}


@given(_performances, _numbers)
def test_a_note_on_has_its_own_note_off_where_only_calls_fail(events: list[Event], failing: frozenset[int]) -> None:
    """Without any help of All Notes Off, which a receiver may ignore (MIDI 1.0): the Note Offs themselves all come."""
    port = FaultyPort()
    outputs = Outputs([MidiOutput(MidiSettings(), SentPitch(), port, port.attend)], lambda *_: None)
    outputs.open()
    port.fail(failing)
    play(outputs, events, frozenset(), port)
    outputs.close()
    for place in set(port.ons):
        assert port.offs.count(place) >= port.ons.count(place)


@given(st.integers(1, 5))
def test_what_cannot_be_opened_is_closed(failing: int) -> None:
    """The port, or one of the four messages of the bend range, refuses: the error comes out, and all is let go."""
    port = FaultyPort()
    port.fail(frozenset({failing}))
    outputs = Outputs([MidiOutput(MidiSettings(), SentPitch(), port, port.attend)], lambda *_: None)
    with pytest.raises(_ERRORS):
        outputs.open()
    assert port.closed == (failing > 1)


def test_a_second_outage_is_told_again() -> None:
    """Two seconds of work lie between them; within one outage the second failure is not told."""
    port, told = FaultyPort(), list[str]()
    midi = MidiOutput(MidiSettings(active_sensing=True), SentPitch(), port, port.attend)
    outputs = Outputs([midi], lambda name, error: told.append(f"{name} {error}"))
    outputs.open()
    for number in range(200):
        if number in (10, 14, 100):
            port.fail(frozenset({1}))
        outputs.attend(number * _STEP_S)
    assert told == ["MIDI planned"] * 2
    outputs.close()
