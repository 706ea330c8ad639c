"""The MIDI output as a whole, on a port that tests can break."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import ClosedError
from bridge.base.events import Event
from bridge.send.kept_port import PortNews
from bridge.send.midi_output import IDLE_S, MidiOutput
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
    """One Note Off, CC 123 and 120, bend to centre, CC 121, and the port is closed once."""
    port = BreakablePort()
    midi = output(port)
    midi.send(note_on(0.0, bend_cents=-50.0))
    port.sent.clear()
    midi.close()
    midi.close()
    assert port.sent == ["80 47 40", "B0 7B 00", "B0 78 00", "E0 00 40", "B0 79 00"]
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
    """FE at most 300 ms apart, also while no event comes at all (MIDI 1.0, 4.2.1: Active Sensing); else never.

    The engine attends to its outputs every 50 ms at least.
    """
    for wanted in (True, False):
        sent: list[tuple[float, bytes]] = []

        class Kept(BreakablePort):
            """Keeps every message with the time at which it was sent."""

            def send(self, data: bytes) -> None:
                sent.append((now, data))  # noqa: B023 -- the list of this round

        midi = MidiOutput(MidiSettings(active_sensing=wanted), SentPitch(), Kept())
        now = 0.0
        midi.open()
        for step in range(60):
            now = 0.05 * step
            if step == 20:
                midi.send(note_on(now))
            midi.attend(now)
        times = [at for at, data in sent if data == b"\xfe"]
        assert bool(times) == wanted
        assert all(later - earlier <= 0.3 for earlier, later in pairwise(times))
        assert not wanted or times[-1] >= 2.7


def test_the_last_value_goes_out_though_no_event_follows() -> None:
    """What thinning held back goes once the stream stands still, between blocks."""
    port = BreakablePort()
    midi = output(port, interval_ms=100.0)
    midi.send(note_on(0.0, breath=0.0))
    midi.send(inflection(0.01, breath=1.0))
    midi.attend(50.0)
    assert "B0 0B 7F" not in port.sent
    midi.attend(50.0 + IDLE_S)
    assert port.sent[-1] == "B0 0B 7F"
    sent = len(port.sent)
    midi.attend(60.0)
    assert len(port.sent) == sent


def test_a_port_that_went_away_and_came_back_is_begun_anew() -> None:
    """Silenced at once, then nothing until it is back: the Note Off once more, silence, bend range, all values anew."""
    news = PortNews.SAME
    port = BreakablePort()
    midi = MidiOutput(MidiSettings(), SentPitch(), port, lambda _now_s: news)
    midi.open()
    midi.send(note_on(0.0))
    port.sent.clear()
    news = PortNews.GONE
    midi.attend(1.0)
    news = PortNews.SAME
    midi.send(inflection(0.5, bend_cents=-50.0))
    midi.send(note_off(0.9))
    midi.send(note_on(1.0, 2))
    midi.panic()
    midi.attend(1.1)
    # MIDI 1.0: Note Off, All Notes Off, All Sound Off, bend to its centre, then RPN 0 as CC 101, 100, 6, 38.
    silence = ["80 47 40", "B0 7B 00", "B0 78 00", "E0 00 40"]
    assert port.sent == silence
    port.sent.clear()
    news = PortNews.BACK
    midi.attend(2.0)
    news = PortNews.SAME
    assert port.sent == [*silence, "B0 65 00", "B0 64 00", "B0 06 02", "B0 26 00"]
    midi.send(inflection(1.5, 2, bend_cents=-50.0))
    midi.attend(2.1)
    assert len(port.sent) == 8
    midi.send(note_on(2.0, 3, bend_cents=-50.0))
    assert [data[:2] for data in port.sent[8:]] == ["E0", "B0", "B0", "B0", "B0", "90"]


def test_values_that_a_port_refused_are_sent_again() -> None:
    """A bend that was lost in an outage does not count as sent: the next note is in tune."""
    port = BreakablePort()
    midi = output(port)
    port.broken = frozenset({port.count + 1})
    with pytest.raises(OSError, match="cable"):
        midi.send(note_on(0.0, bend_cents=-50.0))
    midi.send(note_on(0.1, 2, bend_cents=-50.0))
    assert port.synth.begun == [(71, -50.0)]


def test_closing_tries_again_when_its_note_off_is_refused() -> None:
    """Nothing sounds after it although the port refused the first message."""
    port = BreakablePort()
    midi = output(port)
    midi.send(note_on(0.0))
    port.broken = frozenset({port.count + 1})
    midi.close()
    assert not port.synth.sounding
    assert port.closed == 1


@pytest.mark.parametrize("at_closing", [False, True])
def test_a_port_that_only_seems_to_be_gone_is_silenced_at_once(*, at_closing: bool) -> None:
    """The note is ended in it, 123 and 120 behind; at closing once more; what sounded is owed when it is back."""
    port, news = BreakablePort(), [PortNews.SAME]
    midi = MidiOutput(MidiSettings(), SentPitch(), port, lambda _now_s: news[0])
    midi.open()
    midi.send(note_on(0.0))
    port.sent.clear()
    news[0] = PortNews.GONE
    midi.attend(0.1)
    assert port.sent[:3] == ["80 47 40", "B0 7B 00", "B0 78 00"]
    assert port.synth.sounding == {}
    port.sent.clear()
    if at_closing:
        midi.close()
        assert port.sent[:3] == ["80 47 40", "B0 7B 00", "B0 78 00"]
        return
    midi.send(note_on(0.2, 2))
    assert port.sent == []
    news[0] = PortNews.BACK
    midi.attend(0.3)
    assert port.sent[:3] == ["80 47 40", "B0 7B 00", "B0 78 00"]
