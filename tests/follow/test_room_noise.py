"""The room's noise and the gate that follows from it, on noise whose level is known.

Source of the band's share: the equivalent noise bandwidth of a second-order Butterworth low-pass is 1.11 times its
corner (any textbook of signal processing).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.follow.reed_follower import ReedFollower
from bridge.follow.room_noise import DISTURBED_S, HARP_DB, LearnedRoom, RoomNoise
from bridge.follow.settings import FollowSettings, GateSettings
from follow.tones import RATE, blocks_of, harmonic_tone
from sounds.dirt import pink_noise

FLOOR_HZ = 247.0


def learn(samples: NDArray[np.float32], rate: int = RATE) -> LearnedRoom:
    """What is learned from these samples."""
    room = RoomNoise(FollowSettings(), rate, FLOOR_HZ)
    for block in blocks_of(samples, 480, rate):
        room.hear(block)
    return room.learned()


def white(level_db: float, seconds: float = 5.0, rate: int = RATE) -> NDArray[np.float32]:
    """White noise of that RMS, dBFS."""
    noise = np.random.default_rng(3).standard_normal(round(seconds * rate))
    return np.asarray(10.0 ** (level_db / 20.0) * noise, np.float32)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize("level_db", [-80.0, -50.0, -30.0])
def test_the_level_is_that_of_the_band_that_is_listened_to(level_db: float, rate: int) -> None:
    """Within 0.5 dB at every rate, and the middle moment lies under the 99th of 100."""
    room = learn(white(level_db, rate=rate), rate)
    band_db = 10.0 * math.log10((1.11 * 9000.0 - 123.0) / (rate / 2))
    assert room.noise_db == pytest.approx(level_db + band_db, abs=0.5)
    assert room.noise_db < room.most_db < room.noise_db + 3.0
    assert not room.disturbed
    assert not room.dead


@pytest.mark.parametrize("level_db", [-60.0, -45.0, -30.0])
def test_with_the_gate_that_is_learned_the_room_never_sounds(level_db: float) -> None:
    """Of pink noise nothing passes, though much of it passes a gate 12 dB lower."""
    noise = pink_noise(10 * RATE, RATE)
    samples = np.asarray(noise / np.std(noise) * 10.0 ** (level_db / 20.0), np.float32)
    room = learn(samples[: 5 * RATE])
    assert not room.disturbed
    lower = GateSettings(open_db=room.most_db - 3.0, close_db=room.most_db - 9.0)
    gates = {"learned": room.gate(), "lower": lower}
    heard = {}
    for name, gate in gates.items():
        follower = ReedFollower(FollowSettings(gate=gate), RATE, FLOOR_HZ)
        frames = [frame for block in blocks_of(samples[5 * RATE :], 480) for frame in follower.follow(block)]
        heard[name] = sum(frame.level_db > -120.0 for frame in frames[200:])
    assert heard["learned"] == 0
    assert heard["lower"] > 0


def test_a_gate_is_never_lower_than_breath_and_hands() -> None:
    """In a very quiet room the gate stays where our own rule puts it, and the settings take it."""
    room = learn(white(-100.0))
    assert (room.open_db, room.close_db) == (-60.0, -66.0)
    assert room.gate().open_db == room.open_db


def test_a_room_in_which_soft_notes_would_drown_is_too_loud() -> None:
    """The margin is counted from a harp at its usual level."""
    quiet, loud = learn(white(-60.0)), learn(white(-38.0))
    assert not quiet.too_loud
    assert loud.too_loud
    assert loud.margin_db == pytest.approx(HARP_DB - loud.open_db)


@pytest.mark.parametrize("hz", [261.6, 440.0, 1760.0])
def test_somebody_who_plays_meanwhile_is_heard(hz: float) -> None:
    """A second of a tone, and a tone all the time, are told with their pitch."""
    samples = white(-70.0)
    tone = harmonic_tone(hz, 5.0)
    some = samples.copy()
    some[RATE : 2 * RATE] += tone[:RATE]
    for played in (some, samples + tone):
        room = learn(played)
        assert room.disturbed
        assert room.tone_hz == pytest.approx(hz, rel=0.01)


def test_a_mains_hum_is_noise_like_any_other() -> None:
    """50 Hz and its harmonics at -45 dBFS are no playing; the gate takes them in."""
    hum = harmonic_tone(50.0, 5.0, partials=[1.0, 0.5, 0.4, 0.2, 0.1]) * np.float32(10.0 ** (-31.0 / 20.0))
    room = learn(white(-75.0) + hum)
    assert room.tone_hz == 0.0
    assert not room.disturbed


def test_steps_and_voices_disturb_and_one_click_does_not() -> None:
    """Half a second 20 dB above the noise is told; a single click is not."""
    samples = white(-70.0)
    samples[1000] += 0.5
    assert not learn(samples).disturbed
    samples[RATE : RATE + RATE // 2] += white(-50.0, 0.5)
    room = learn(samples)
    assert room.disturbed
    assert room.disturbed_s == pytest.approx(0.5, abs=DISTURBED_S)
    assert room.tone_hz == 0.0


@pytest.mark.parametrize("seconds", [0.0, 0.05, 5.0])
def test_of_nothing_comes_nothing(seconds: float) -> None:
    """A dead microphone, or too little to tell, is said to be dead; no number is undefined."""
    room = learn(np.zeros(round(seconds * RATE), np.float32))
    assert room.dead
    assert room.gate().open_db == -60.0


def test_what_is_no_number_does_no_harm() -> None:
    """NaN and infinity count as silence."""
    samples = white(-60.0)
    samples[5000:5010] = np.nan
    samples[9000] = np.inf
    assert learn(samples).noise_db == pytest.approx(learn(white(-60.0)).noise_db, abs=0.1)
