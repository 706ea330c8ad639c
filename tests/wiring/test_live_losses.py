"""How long a live performance lasts, and what it tells of sound that never came."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.clock import ManualClock
from bridge.base.events import AudioBlock
from bridge.capture.microphone import Microphone
from bridge.capture.paced import Paced
from bridge.wiring.settings import load_settings
from bridge.wiring.sources import input_source
from follow.tones import RATE
from wiring.stand_ins import SETTINGS, Ear, Tone, run


@pytest.mark.parametrize("block", [128, 4096])
def test_seconds_are_those_of_the_clock_whatever_the_size_of_a_block(block: int) -> None:
    """Waiting for a block does not count beside the block itself: 1 s is 1 s, to the block."""

    class Large(Tone):
        def read(self, _timeout_s: float) -> AudioBlock | None:
            samples = self._samples[self._next : self._next + block]
            given = AudioBlock(self._next, RATE, samples)
            self._next += block
            return given if len(samples) else None

    clock = ManualClock()
    report = run(Paced(Large(), clock), Ear(), seconds=1.0, clock=clock)
    assert 1.0 - block / RATE <= report.seconds <= 1.0 + block / RATE
    assert clock.now() == pytest.approx(1.0, abs=max(0.051, block / RATE))


def test_seconds_end_it_though_no_sound_comes() -> None:
    """A sound card that gives nothing does not keep the performance going for ever."""
    clock = ManualClock()

    class Mute(Tone):
        def read(self, timeout_s: float) -> AudioBlock | None:
            clock.sleep(timeout_s)
            return AudioBlock(0, RATE, np.zeros(0, np.float32))

    assert run(Mute(), Ear(), seconds=3.0, clock=clock).seconds == 0.0
    assert clock.now() == pytest.approx(3.0, abs=0.06)


def test_sound_lost_on_the_way_in_is_told_once_and_counted() -> None:
    """Lost samples, the sound system's own dropouts and values that are no numbers make one notice each."""

    class Lossy(Tone):
        @property
        def lost(self) -> int:
            return 7 if self._next > RATE else 0

        def read(self, timeout_s: float) -> AudioBlock | None:
            self.dropouts, self.repaired = int(self._next > RATE), int(self._next > RATE)
            return super().read(timeout_s)

    said: list[str] = []
    report = run(Lossy(), Ear(), notice=said.append)
    assert report.missed_s == pytest.approx(7 / RATE)
    assert report.dropouts == 1
    assert not report.failed
    assert len(said) == 3
    assert "was lost" in said[0]
    assert "cannot keep up" in said[1]
    assert "no numbers" in said[2]


def test_a_sound_card_that_goes_away_is_told_and_is_a_failure() -> None:
    """A stream that should never end has ended; that of a file just ends."""

    class Card(Tone):
        endless = True

    said: list[str] = []
    ear = Ear()
    assert run(Card(), ear, notice=said.append).failed
    assert ear.notes == ["NoteOn", "NoteOff"]
    assert len(said) == 1
    assert "tone went away" in said[0]
    assert not run(Tone(), Ear(), notice=pytest.fail).failed
    assert Microphone(SETTINGS.capture).endless


def test_only_sound_that_waits_for_nobody_is_live() -> None:
    """A microphone is live whatever is said of pace, a paced file is, a file read at once is not."""
    assert input_source(SETTINGS, ManualClock()).live
    assert input_source(load_settings(flags={"capture.input": "x.wav"}), ManualClock()).live
    assert not input_source(load_settings(flags={"capture.input": "x.wav", "capture.paced": False}), ManualClock()).live
