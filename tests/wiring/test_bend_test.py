"""The bend test byte by byte.

Source: MIDI 1.0 Detailed Specification 4.2.1: RPN 0 (CC 101, 100, 6, 38), pitch bend 0..16383 with its centre at 8192;
MPE 1.1 (M1-100-UM): RPN 6 on channel 1, notes on member channels.
"""

from __future__ import annotations

from itertools import groupby

import pytest

from bridge.base.clock import ManualClock
from bridge.send.midi_settings import MidiSettings
from bridge.wiring.bend_test import NOTE, STEPS, bend_output, run_bend_test
from send.synth import Synth

RANGE_2 = ["b06500", "b06400", "b00602", "b02600"]


class Port:
    """A port that remembers its messages in hex, and fails from the message on that is said."""

    def __init__(self, fails_at: int | None = None) -> None:
        self.sent: list[str] = []
        self._fails_at = fails_at

    def open(self) -> None:
        """Nothing to open."""

    def send(self, data: bytes) -> None:
        """Remember it."""
        if self._fails_at is not None and len(self.sent) >= self._fails_at:
            raise OSError("unplugged")
        self.sent.append(data.hex())

    def close(self) -> None:
        """Nothing to close."""


def played(settings: MidiSettings, port: Port, stops_at_s: float = 100.0) -> tuple[bool, list[str]]:
    """Whether it came to its end, and what failed."""
    clock, failures = ManualClock(50.0), []
    outputs = bend_output(settings, port, lambda name, error: failures.append(f"{name}: {error}"))
    outputs.open()
    # Opened some time before, as while the room is learned.
    clock.sleep(20.0)
    done = run_bend_test(outputs, clock, lambda: clock.time >= 70.0 + stops_at_s)
    outputs.close()
    return done, failures


def test_the_bend_range_comes_first_then_a_semitone_two_ways() -> None:
    """C4, C#4, C4 with the bend at its centre; up 100 of 200 cents (8192 + 4096 = 60 00 hex) and back; then silence."""
    port = Port()
    assert played(MidiSettings(), port) == (True, [])
    assert port.sent[:8] == RANGE_2 * 2
    rest = [data for data in port.sent[8:] if data[:2] != "b0"]
    assert rest == [
        *("e00040", "903c40", "803c40", "903d40", "803d40", "903c40", "e00060", "e00040", "803c40"),
        "e00040",
    ]
    assert [data for data in port.sent if data[:2] == "b0"][-3:] == ["b07b00", "b07800", "b07900"]


@pytest.mark.parametrize("own_range", [100.0, 200.0, 1200.0])
def test_a_synth_of_any_range_hears_the_same_rise_twice(own_range: float) -> None:
    """The synth of the tests, which obeys RPN 0: pitches 60, 61, 60, 61, 60, whatever its range was before."""
    port, synth = Port(), Synth(range_cents={0: own_range})
    played(MidiSettings(bend_range=12), port)
    pitches: list[float] = []
    for data in port.sent:
        synth.hear(bytes.fromhex(data))
        pitches += [note + synth.cents() / 100.0 for _, note in synth.sounding]
    assert [round(pitch, 2) for pitch, _ in groupby(pitches)] == [60.0, 61.0, 60.0, 61.0, 60.0]
    assert not synth.sounding


@pytest.mark.parametrize("semitones", [1, 2, 12, 24, 48, 96])
def test_whatever_the_range_the_bend_is_a_semitone(semitones: int) -> None:
    """Within the step of 14 bits."""
    port = Port()
    played(MidiSettings(bend_range=semitones), port)
    bends = [bytes.fromhex(data) for data in port.sent if data[:2] == "e0"]
    cents = max((low + 128 * high - 8192) / 8192 * semitones * 100 for _, low, high in bends)
    assert cents == pytest.approx(100.0, abs=semitones * 100 / 8192)
    assert f"b006{semitones:02x}" in port.sent


def test_in_a_zone_notes_and_their_bends_are_on_members() -> None:
    """The zone is told, and again before the first note; each bend is on the channel of its note, 48 semitones wide."""
    port = Port()
    assert played(MidiSettings(mode="mpe"), port)[0]
    assert port.sent.count("b00605") == 2
    first = next(place for place, data in enumerate(port.sent) if data[:1] == "9")
    assert "b00605" in port.sent[port.sent.index("b00605") + 1 : first]
    bent = [data for data in port.sent if data[:1] == "e" and data[2:] != "0040"]
    # 8192 + round(100 / 4800 * 8192) = 8363 = 65 * 128 + 43.
    assert [data[2:] for data in bent] == ["2b41"]
    sounding = [data for data in port.sent[: port.sent.index(bent[0])] if data[:1] == "9"][-1]
    assert bent[0][1] == sounding[1] != "0"


@pytest.mark.parametrize("stops_at_s", [0.0, 0.5, 1.0, 3.0])
def test_a_test_that_is_stopped_leaves_no_note(stops_at_s: float) -> None:
    """Every note on has its note off, whenever it is stopped."""
    port = Port()
    assert not played(MidiSettings(), port, stops_at_s)[0]
    on, off = ([data[2:4] for data in port.sent if data[0] == kind] for kind in "98")
    assert on == off
    assert len(on) >= 1


@pytest.mark.parametrize("fails_at", [8, 14, 18, 22])
def test_a_port_that_fails_is_told_once(fails_at: int) -> None:
    """Nothing is raised."""
    _, failures = played(MidiSettings(), Port(fails_at))
    assert failures
    assert set(failures) == {"MIDI: unplugged"}


def test_the_bend_goes_as_far_as_the_note() -> None:
    """The second note lies a semitone above the first, which is what the bend is compared with."""
    assert [note - NOTE + cents / 100.0 for note, cents in STEPS] == [0, 1, 0, 1, 0]
