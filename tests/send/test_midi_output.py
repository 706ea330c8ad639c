"""The MIDI output as a whole, on a port that tests can break."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import ClosedError
from bridge.base.events import Event
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_off, note_on, point
from send.synth import Synth


class BreakablePort:
    """Passes messages to a synth, except those whose number is in ``broken``."""

    def __init__(self, broken: frozenset[int] = frozenset()) -> None:
        self.broken = broken
        self.count = 0
        self.opened = self.closed = 0
        self.synth = Synth()
        self.sent: list[str] = []

    def open(self) -> None:
        """Count."""
        self.opened += 1

    def send(self, data: bytes) -> None:
        """Refuse or pass on."""
        self.count += 1
        if self.count in self.broken:
            raise OSError("the cable is out")
        self.sent.append(data.hex(" ").upper())
        self.synth.hear(data)

    def close(self) -> None:
        """Count."""
        self.closed += 1


def output(port: BreakablePort, **settings: object) -> MidiOutput:
    """An open output on that port, with the opening already forgotten."""
    made = MidiOutput(MidiSettings.model_validate(settings), SentPitch(), port)
    made.open()
    port.sent.clear()
    return made


def test_closing_ends_the_note_resets_the_channel_and_is_idempotent() -> None:
    """One Note Off, bend to centre, CC 121, and the port is closed once."""
    port = BreakablePort()
    midi = output(port)
    midi.send(note_on(0.0, bend_cents=-50.0))
    port.sent.clear()
    midi.close()
    midi.close()
    assert port.sent == ["80 47 40", "E0 00 40", "B0 79 00"]
    assert port.closed == 1
    assert not port.synth.sounding


def test_a_closed_output_raises() -> None:
    """Before opening and after closing, sending and panic are faults."""
    midi = MidiOutput(MidiSettings(), SentPitch(), BreakablePort())
    for _ in range(2):
        with pytest.raises(ClosedError):
            midi.send(note_on(0.0))
        with pytest.raises(ClosedError):
            midi.panic()
        midi.open()
        midi.close()


def test_opening_twice_opens_the_port_once() -> None:
    """An open output is left alone."""
    port = BreakablePort()
    midi = output(port)
    midi.open()
    assert port.opened == 1


def test_closing_lets_go_of_a_port_that_fails() -> None:
    """The error comes out, the port is closed all the same."""
    port = BreakablePort()
    midi = output(port)
    port.broken = frozenset(range(1000))
    with pytest.raises(OSError, match="cable"):
        midi.close()
    assert port.closed == 1


def test_a_refused_note_off_goes_as_soon_as_the_port_takes_it() -> None:
    """A note does not hang because the cable was out when it ended."""
    port = BreakablePort()
    midi = output(port)
    midi.send(note_on(0.0))
    port.broken = frozenset({port.count + 1})
    with pytest.raises(OSError, match="cable"):
        midi.send(note_off(0.5))
    assert port.synth.sounding
    midi.send(point(0.6))
    assert not port.synth.sounding


@given(any_events, st.frozensets(st.integers(5, 120)))
def test_nothing_hangs_whichever_messages_a_port_refuses(events: list[Event], broken: frozenset[int]) -> None:
    """After closing on a port that works again nothing sounds."""
    port = BreakablePort(broken)
    midi = output(port)
    for event in events:
        try:
            midi.send(event)
        except OSError:
            continue
    port.broken = frozenset()
    midi.close()
    assert not port.synth.sounding


def test_panic_drops_what_waited() -> None:
    """A bend that the budget held back does not come out after the panic."""
    port = BreakablePort()
    midi = output(port, interval_ms=50.0)
    midi.send(note_on(0.0))
    midi.send(inflection(0.01, bend_cents=100.0))
    midi.panic()
    port.sent.clear()
    for step in range(20):
        midi.send(point(0.1 * step))
    assert port.sent == []
    assert port.synth.cents() == 0.0


def test_a_waiting_value_is_replaced_by_the_newer_one_of_its_hop() -> None:
    """The point that opens a hop does not send an old value while inflections follow, and does once they stop."""
    port = BreakablePort()
    midi = output(port, interval_ms=4.0)
    midi.send(note_on(0.0, breath=0.0))
    for time_s, breath in ((0.002, 0.2), (0.0045, 0.4)):
        midi.send(point(time_s))
        midi.send(inflection(time_s, breath=breath))
    assert port.sent[-1] == "B0 0B 33"  # 0.4 * 127 = 50.8 = 33 hex; 0.2 was never sent
    midi.send(point(0.0060))
    midi.send(inflection(0.0060, breath=0.6))
    midi.send(point(0.0075))
    midi.send(point(0.0100))
    assert port.sent[-1] == "B0 0B 4C"  # 0.6 * 127 = 76.2


def test_a_synth_connected_later_learns_the_bend_range_within_seconds() -> None:
    """The first note of every five seconds repeats RPN 0 and all values before it begins."""
    port = BreakablePort()
    midi = output(port, bend_range=12)
    midi.send(note_on(0.0))
    midi.send(note_off(1.0))
    midi.send(note_on(2.0, 2))
    assert not [data for data in port.sent if data.startswith("B0 06")]
    midi.send(note_off(3.0, 2))
    late = port.synth = Synth()
    midi.send(note_on(6.0, 3, bend_cents=-300.0))
    assert late.range_cents == {0: 1200.0}
    assert late.begun == [(71, -300.0)]
    assert {number for _, number in late.controllers} >= {11, 74, 20, 21}


def test_active_sensing_comes_often_enough_and_only_when_asked_for() -> None:
    """FE at most 300 ms apart while it listens, also in a rest (MIDI 1.0, 4.2.1: Active Sensing); else never."""
    for wanted in (True, False):
        sent: list[tuple[float, bytes]] = []

        class Kept(BreakablePort):
            """Keeps every message with the time of the event that brought it."""

            def send(self, data: bytes) -> None:
                sent.append((now, data))  # noqa: B023 -- the list of this round

        midi = MidiOutput(MidiSettings(active_sensing=wanted), SentPitch(), Kept())
        now = 0.0
        midi.open()
        for step in range(1000):
            now = 0.003 * step
            midi.send(note_on(now) if step == 300 else point(now))
        times = [at for at, data in sent if data == b"\xfe"]
        assert bool(times) == wanted
        assert all(later - earlier <= 0.3 for earlier, later in pairwise(times))
        assert not wanted or times[-1] >= 2.7
