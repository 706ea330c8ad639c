"""The live performance with stand-ins for sound card and outputs."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import numpy as np
import pytest

from bridge.base.commands import Arm, ChangeHarp, Command, Panic, Stop
from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn
from bridge.capture.source import Source
from bridge.send.output import Outputs
from bridge.wiring.live import LiveReport, run_live
from bridge.wiring.settings import load_settings
from follow.tones import RATE, harmonic_tone

SETTINGS = load_settings(flags={"harp.key": "C", "capture.paced": False})


class Tone(Source):
    """A held B4 of two seconds; ``at`` says what happens when that block is read."""

    name = "tone"
    rate = RATE

    def __init__(self, at: dict[int, object] | None = None) -> None:
        self._samples = harmonic_tone(493.88, 2.0)
        self._at = at or {}
        self._next = 0
        self.closed = False

    def open(self) -> None:
        """Nothing to open."""

    def read(self, _timeout_s: float) -> AudioBlock | None:
        """The next 128 samples."""
        what = self._at.get(self._next // 128)
        if isinstance(what, Exception):
            raise what
        if isinstance(what, signal.Signals):
            os.kill(os.getpid(), what)
        block = AudioBlock(self._next, RATE, self._samples[self._next : self._next + 128])
        self._next += 128
        return block if len(block.samples) else None

    def close(self) -> None:
        """Remember that it was closed."""
        self.closed = True


class Ear:
    """An output that remembers what it was told."""

    name = "ear"

    def __init__(self) -> None:
        self.heard: list[Event] = []
        self.panics = 0
        self.closed = False

    def open(self) -> None:
        """Nothing to open."""

    def send(self, event: Event) -> None:
        """Remember it."""
        assert not self.closed
        self.heard.append(event)

    def panic(self) -> None:
        """Count it."""
        self.panics += 1

    def close(self) -> None:
        """Nothing may be sent from here on."""
        self.closed = True

    @property
    def notes(self) -> list[str]:
        """The kinds of the notes' ends and beginnings."""
        return [type(event).__name__ for event in self.heard if isinstance(event, NoteOn | NoteOff)]


class Orders:
    """Commands that come in at certain polls."""

    def __init__(self, orders: dict[int, Command]) -> None:
        self._orders = orders
        self._polls = 0

    def open(self) -> None:
        """Nothing to open."""

    def poll(self) -> list[Command]:
        """What comes in at this poll."""
        self._polls += 1
        return [self._orders[self._polls]] if self._polls in self._orders else []

    def close(self) -> None:
        """Nothing to close."""


def _run(source: Tone, ear: Ear, **more: object) -> LiveReport:
    outputs = Outputs([ear], lambda name, error: pytest.fail(f"{name}: {error}"))
    return run_live(SETTINGS, source=source, outputs=outputs, meter=None, take=None, **more)  # type: ignore[arg-type]


def test_it_ends_with_the_sound() -> None:
    """A source that ends ends the performance: one note on, one off, everything closed."""
    source, ear = Tone(), Ear()
    report = _run(source, ear)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert ear.closed
    assert source.closed
    assert report.notes == 1
    assert report.seconds == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_it_in_good_order(number: signal.Signals) -> None:
    """Ctrl-C, SIGTERM and SIGHUP end the note before anything closes, and the old handlers are back afterwards."""
    before = signal.getsignal(number)
    source, ear = Tone({300: number}), Ear()
    report = _run(source, ear)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert source.closed
    assert report.seconds < 1.0
    assert signal.getsignal(number) == before


def test_a_fault_in_the_chain_leaves_nothing_sounding() -> None:
    """When reading fails, the note still ends, everything closes, and the error is told."""
    source, ear = Tone({300: RuntimeError("driver gone")}), Ear()
    with pytest.raises(RuntimeError, match="driver gone"):
        _run(source, ear)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert ear.closed
    assert source.closed


def test_seconds_limit_it() -> None:
    """It ends once that much has been heard."""
    assert _run(Tone(), Ear(), seconds=0.5).seconds == pytest.approx(0.5, abs=0.01)


def test_commands_are_obeyed_between_blocks() -> None:
    """Disarm and arm split the held note, another harp too; panic silences; stop ends."""
    ear = Ear()
    orders: dict[int, Command] = {150: Arm(), 250: Arm(armed=True), 400: ChangeHarp("G"), 500: Panic(), 600: Stop()}
    said: list[str] = []
    report = _run(Tone(), ear, inputs=[Orders(orders)], notice=said.append)
    assert ear.notes == ["NoteOn", "NoteOff"] * 4
    assert ear.panics == 1
    assert report.seconds < 1.7
    assert not said


def test_an_impossible_harp_is_told_and_the_playing_goes_on() -> None:
    """A command with a harp that does not exist is one notice; the note goes on."""
    ear = Ear()
    said: list[str] = []
    _run(Tone(), ear, inputs=[Orders({200: ChangeHarp("H")})], notice=said.append)
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert len(said) == 1


def test_a_take_holds_what_was_played(tmp_path: Path) -> None:
    """The take has the note, the sound sample by sample, and a curve; nothing is lost when it is not live."""
    outputs = Outputs([], lambda *_: None)
    report = run_live(SETTINGS, source=Tone(), outputs=outputs, meter=None, take=tmp_path, notice=pytest.fail)
    assert report.folder is not None
    assert report.lost == 0
    rows = (report.folder / "notes.csv").read_text().splitlines()
    assert len(rows) == 2
    assert rows[1].split(",")[3:5] == ["71", "3"]
    import soundfile

    samples, rate = soundfile.read(report.folder / "sound.wav", dtype="float32")
    assert rate == RATE
    np.testing.assert_allclose(samples, harmonic_tone(493.88, 2.0), atol=2e-7)
    assert (report.folder / "performance.mid").stat().st_size > 100


def test_a_take_that_cannot_be_written_does_not_stop_the_playing(tmp_path: Path) -> None:
    """When the folder of the take goes away, the playing goes on to its end and the loss is told once."""
    ear = Ear()
    said: list[str] = []

    class Vanishing(Tone):
        def read(self, _timeout_s: float) -> AudioBlock | None:
            if self._next == 0:
                for folder in tmp_path.iterdir():
                    folder.rmdir()
            return super().read(_timeout_s)

    outputs = Outputs([ear], lambda *_: None)
    report = run_live(SETTINGS, source=Vanishing(), outputs=outputs, meter=None, take=tmp_path, notice=said.append)
    assert report.notes == 1
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert len(said) == 1
    assert "The playing goes on" in said[0]
