"""Every note ends, whatever goes on sounding after it."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.events import AudioBlock, Event, NoteOff, NoteOn
from bridge.capture.player import PlayedNote, perform
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings
from bridge.quantise.hearing import Hearing
from bridge.quantise.settings import QuantiseSettings
from quantise.playing import RATE as FRAMES_A_SECOND
from quantise.playing import frame, quantiser
from sounds.dirt import pink_noise
from sounds.known import Floats

RATE = 48000


def reeds_then_noise(holes_hz: tuple[float, float], noise_db: float) -> Floats:
    """Two reeds from 0.1 to 0.7 s, in pink noise of that level (dBFS) that goes on for 2 s after them."""
    reeds = [perform([PlayedNote(0.1, 0.6, hz, level_db=-20.0)], RATE, 3, length_s=2.7).samples for hz in holes_hz]
    together: Floats = np.asarray(np.sum(reeds, axis=0, dtype=np.float64))
    noise = pink_noise(len(together), RATE)
    return np.asarray(together + 10.0 ** (noise_db / 20.0) * noise / np.sqrt(np.mean(noise**2)))


@pytest.mark.parametrize("noise_db", [-50.0, -35.0])
@pytest.mark.parametrize("holes_hz", [(392.0, 493.9), (293.7, 392.0), (784.0, 987.8)])
def test_two_reeds_end_in_a_noise_that_holds_the_gate_open(holes_hz: tuple[float, float], noise_db: float) -> None:
    """What is begun while they sound is over 0.15 s after them, and the noise begins nothing."""
    samples = reeds_then_noise(holes_hz, noise_db).astype(np.float32)
    follower, played = make_follower(FollowSettings(), RATE, 233.0), quantiser()
    hearing = Hearing(QuantiseSettings(), tells_reeds=True, look_ahead=False)
    frames = follower.follow(AudioBlock(0, RATE, samples))
    events: list[Event] = [
        event for heard in frames for settled in hearing.step(heard) for event in played.step(settled)
    ]
    ons = [event.ready_s for event in events if isinstance(event, NoteOn)]
    offs = [event.ready_s for event in events if isinstance(event, NoteOff)]
    assert len(ons) == len(offs) > 0
    assert max(ons) < 0.7
    assert max(offs) < 0.85


def test_a_pitch_that_settles_nowhere_holds_no_note() -> None:
    """A note whose pitch gives way to one that jumps on and on ends within a tenth of a second."""
    played = quantiser()
    note = [frame(place / FRAMES_A_SECOND, 0.0, attack=place == 0) for place in range(300)]
    jumps = [frame(place / FRAMES_A_SECOND, 300.0 + 100.0 * (place // 3 % 7)) for place in range(300, 600)]
    events = [event for heard in (*note, *jumps) for event in played.step(heard)]
    off = next(event for event in events if isinstance(event, NoteOff))
    assert 0.4 <= off.ready_s < 0.5
    assert off.time_s == pytest.approx(0.4, abs=0.002)
