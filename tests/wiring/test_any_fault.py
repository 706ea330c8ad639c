"""Outputs that fail at any call, for as long as may be, while a phrase is played live: nothing crashes, nothing hangs.

Source of the wire: MIDI 1.0, 4.2.1, as ``send.synth`` reads it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.base.commands import Panic
from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn
from bridge.capture.source import Source
from bridge.send.kept_port import PortNews
from bridge.send.midi_output import MidiOutput
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.wiring.live import LiveReport, run_live
from send.synth import Synth
from sounds.rehearsed import RATE, rehearsed
from wiring.stand_ins import SETTINGS, Ear, Orders

_BLOCK = 256
ERRORS = (OSError, RuntimeError, ValueError, TypeError, ZeroDivisionError, TimeoutError)


@lru_cache(maxsize=1)
def phrase() -> Phrase:
    """A few seconds of bends and repeats, as a source; the same one each time."""
    return Phrase()


class Phrase(Source):
    """Part of the rehearsal, as fast as it is read."""

    name = "phrase"
    rate = RATE

    def __init__(self) -> None:
        self._samples = rehearsed("C", 1, ["released third", "tongued repeats 40 ms"]).samples[: 4 * RATE]
        self._next = 0

    def open(self) -> None:
        """Go to the beginning."""
        self._next = 0

    def read(self, _timeout_s: float) -> AudioBlock | None:
        """The next block."""
        start, self._next = self._next, self._next + _BLOCK
        samples = self._samples[start : self._next]
        return AudioBlock(start, RATE, samples) if len(samples) else None

    def close(self) -> None:
        """Nothing to close."""


@dataclass(frozen=True)
class Fault:
    """From call ``first`` on, ``many`` calls raise an ``error``."""

    first: int
    many: int
    error: type[Exception]

    def strike(self, call: int) -> None:
        """Raise if this call is one of them."""
        if self.first <= call < self.first + self.many:
            raise self.error("planned")


faults = st.builds(
    Fault,
    first=st.integers(0, 1500),
    many=st.one_of(st.integers(1, 5), st.integers(1, 5000)),
    error=st.sampled_from(ERRORS),
)


@dataclass
class Port:
    """A MIDI port that fails as planned, and a synth at its other end; closing fails too where it is planned."""

    fault: Fault
    synth: Synth = field(default_factory=Synth)
    begun: bool = False
    calls: int = 0
    refused_last: bool = False

    def open(self) -> None:
        """Nothing to open."""

    def send(self, data: bytes) -> None:
        """Let it through, or refuse it."""
        if self.begun:
            # What cannot even be opened is refused before anything is played.
            self.calls += 1
            self.refused_last = True
            self.fault.strike(self.calls - 1)
            self.refused_last = False
        self.synth.hear(data)

    def attend(self, _now_s: float) -> PortNews:
        """It is always there."""
        return PortNews.SAME

    def close(self) -> None:
        """Be closed."""
        self.fault.strike(self.calls)


class Faulty(Ear):
    """An output that fails as planned, whatever it is asked for."""

    name = "faulty"

    def __init__(self, fault: Fault) -> None:
        super().__init__()
        self._fault = fault
        self._calls = -1

    def _call(self) -> None:
        self._calls += 1
        self._fault.strike(self._calls)

    def send(self, event: Event) -> None:
        """Fail, or remember it."""
        self._call()
        super().send(event)

    def attend(self, _now_s: float) -> None:
        """Fail, or have nothing to see to."""
        self._call()

    def panic(self) -> None:
        """Fail, or count it."""
        self._call()
        super().panic()

    def close(self) -> None:
        """Fail, or be closed."""
        self._call()
        super().close()


def play_to(port: Port, faulty: Faulty, ear: Ear, panic_at: int) -> tuple[LiveReport, list[str]]:
    """The phrase to all three, a panic in its middle; what came of it, and which outputs were told to have failed."""
    failed: list[str] = []
    pitch = sent_pitch(SETTINGS.send, 0.0)
    outputs = Outputs(
        [faulty, MidiOutput(SETTINGS.send.midi, pitch, port), ear], lambda name, _: failed.append(name), pitch
    )

    def begin() -> None:
        port.begun = True

    orders = [Orders({panic_at: Panic()})]
    report = run_live(SETTINGS, source=phrase(), outputs=outputs, take=None, inputs=orders, begun=begin)
    return report, failed


@settings(max_examples=12)
@given(faults, faults, st.integers(1, 700))
def test_a_failing_output_stops_no_other_and_leaves_no_note(port_fault: Fault, fault: Fault, panic_at: int) -> None:
    """Whatever fails, and whenever: it ends well, and who works hears each note begin once and end once, in turn.

    A synth whose port failed for a while is left silent as soon as the port takes messages again.
    """
    ear, port, faulty = Ear(), Port(port_fault), Faulty(fault)
    report, failed = play_to(port, faulty, ear, panic_at)
    assert not report.failed
    assert report.notes >= 3
    assert ear.closed
    begun = [event.note_id for event in ear.heard if isinstance(event, NoteOn)]
    ended = [event.note_id for event in ear.heard if isinstance(event, NoteOff)]
    assert ear.notes == ["NoteOn", "NoteOff"] * len(begun)
    assert begun == ended
    assert len(begun) == report.notes
    # Told once each, and only where something did fail.
    assert len(failed) == len(set(failed))
    assert set(failed) <= {"MIDI", "faulty"}
    if not port.refused_last:
        assert port.synth.sounding == {}


def test_the_phrase_is_long_enough_to_fail_anywhere_in_it() -> None:
    """Without a fault all three hear the same, and the calls are more than the earliest faults that are planned."""
    never = Fault(10**9, 1, OSError)
    ear, port, faulty = Ear(), Port(never), Faulty(never)
    report, failed = play_to(port, faulty, ear, 300)
    assert failed == []
    assert ear.panics == 1
    assert faulty.notes == ear.notes
    assert len(port.synth.begun) == report.notes
    assert port.synth.sounding == {}
    assert port.calls > 500
