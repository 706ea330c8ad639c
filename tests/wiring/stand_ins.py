"""Stand-ins for sound card, outputs and keyboard of a live performance."""

from __future__ import annotations

import os
import signal

import pytest

from bridge.base.commands import Command
from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn
from bridge.capture.source import Source
from bridge.send.output import Outputs
from bridge.send.pitch import SentPitch
from bridge.wiring.live import LiveReport, run_live
from bridge.wiring.settings import Settings, load_settings
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

    def attend(self, _now_s: float) -> None:
        """Nothing to see to."""
        assert not self.closed

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


def run(
    source: Source, ear: Ear, *, settings: Settings = SETTINGS, pitch: SentPitch | None = None, **more: object
) -> LiveReport:
    """A performance of ``source`` for ``ear`` alone; an output that fails fails the test."""
    outputs = Outputs([ear], lambda name, error: pytest.fail(f"{name}: {error}"), pitch)
    kept = {"take": None, **more}
    return run_live(settings, source=source, outputs=outputs, **kept)  # type: ignore[arg-type]
