"""Learning a room and measuring a loudspeaker, with stand-ins for microphone and loudspeaker."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.base.clock import ManualClock
from bridge.base.errors import UserError
from bridge.base.events import AudioBlock
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.source import Source
from bridge.follow.loudspeaker import LEVELS_DB
from bridge.wiring.checking import learn_room, measure_loudspeaker, with_gate
from bridge.wiring.settings import Settings

RATE = 48000


class NoisyRoom(Source):
    """A microphone that crackles when it starts, then gives white noise of RMS 0.001 (-60 dBFS), or stops."""

    name = "made up"
    rate = RATE

    def __init__(self, clock: ManualClock, *, stops_after_s: float = 1e9) -> None:
        self._clock = clock
        self._rng = np.random.default_rng(4)
        self._stops_after = round(stops_after_s * RATE)
        self._next = 0

    def open(self) -> None:
        """Nothing to open."""

    def close(self) -> None:
        """Nothing to close."""

    def read(self, timeout_s: float) -> AudioBlock | None:
        """The next 480 samples, or nothing."""
        self._clock.sleep(timeout_s)
        count = 480 if self._next < self._stops_after else 0
        samples = 1e-3 * self._rng.standard_normal(count)
        if self._next < 2400:
            samples += 0.5
        block = AudioBlock(self._next, RATE, samples.astype(np.float32))
        self._next += count
        return block


def test_the_crackle_of_the_start_is_passed_over() -> None:
    """The room is as quiet as the noise alone, and so long is listened to as was asked for."""
    clock = ManualClock()
    room = learn_room(Settings(), NoisyRoom(clock), 5.0, clock)
    assert room.seconds == pytest.approx(5.0, abs=0.01)
    assert room.noise_db == pytest.approx(-63.9, abs=1.0)
    assert not room.disturbed
    assert with_gate(Settings(), room).follow.gate.open_db == room.open_db


def test_a_microphone_that_stops_is_told() -> None:
    """It does not wait for ever."""
    clock = ManualClock()
    with pytest.raises(UserError, match="Nothing comes from the sound input made up"):
        learn_room(Settings(), NoisyRoom(clock, stops_after_s=1.0), 5.0, clock)


@dataclass
class Air:
    """A loudspeaker of which ``gain`` comes back, ``delays`` samples later (one value a chirp, then the last)."""

    gain: float
    delays: list[int]
    rate: int = RATE
    levels: list[float] = field(default_factory=list)

    def play(self, sound: NDArray[np.float32]) -> NDArray[np.float32]:
        """What is heard."""
        delay = self.delays[min(len(self.levels), len(self.delays) - 1)]
        self.levels.append(round(20.0 * float(np.log10(np.sqrt(np.sum(sound.astype(float) ** 2) / (0.2 * RATE)))), 1))
        noise = 1e-3 * np.random.default_rng(len(self.levels)).standard_normal(len(sound))
        return np.asarray(self.gain * np.concatenate([np.zeros(delay), sound])[: len(sound)] + noise, np.float32)


def test_three_quiet_chirps_are_enough_where_they_come_back() -> None:
    """The quietest level is played three times and nothing louder."""
    air = Air(0.25, [720])
    measured = measure_loudspeaker(cast("Loudspeaker", air))
    assert measured is not None
    found, level_db = measured
    assert found.delay_s == pytest.approx(0.015, abs=1e-4)
    assert found.gain_db == pytest.approx(-12.0, abs=0.5)
    assert air.levels == [LEVELS_DB[0]] * 3
    assert level_db == LEVELS_DB[0]


def test_it_gets_louder_only_while_nothing_comes_back() -> None:
    """A faint return needs more; none at all is tried once at each level."""
    faint, none = Air(0.01, [720]), Air(0.0, [720])
    measured = measure_loudspeaker(cast("Loudspeaker", faint))
    assert measured is not None
    assert measured[0].gain_db == pytest.approx(-40.0, abs=1.0)
    assert len(faint.levels) > 3
    assert measure_loudspeaker(cast("Loudspeaker", none)) is None
    assert none.levels == list(LEVELS_DB)


def test_returns_that_do_not_agree_are_no_measurement() -> None:
    """A card that lost sound in between gives another delay each time."""
    assert measure_loudspeaker(cast("Loudspeaker", Air(0.25, [700, 1400, 2100] * 3))) is None
