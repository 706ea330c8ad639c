"""Sounds for a sound check, made so that what should be seen in them is known, and the meter that sees it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import PitchPoint
from bridge.base.units import cents_between
from bridge.follow.making import make_follower
from bridge.follow.played import Played, PlayedMeter
from bridge.follow.room_noise import LearnedRoom
from bridge.follow.settings import FollowSettings, GateSettings
from follow.tones import RATE, blocks_of, harmonic_tone

FLOOR_HZ = 247.0
#: A room whose noise, after the follower's filters, is at -66 dBFS: white noise of RMS -62 dBFS gives that.
ROOM = LearnedRoom(5.0, -66.0, -64.0, 0.0, 0.0)
NOISE_DB = -62.0
PAUSE_S = 0.5
Sound = NDArray[np.float64]


def noise(count: int, level_db: float = NOISE_DB) -> Sound:
    """White noise of that RMS in dBFS."""
    return np.asarray(10.0 ** (level_db / 20.0) * np.random.default_rng(5).standard_normal(count))


def notes(
    pitches: Sequence[float] = (392.0, 523.25, 784.0),
    *,
    seconds: float = 0.8,
    level_db: float = -20.0,
    fall_db: Sequence[float] = (0.0,),
    decay_s: float = 0.03,
) -> Sound:
    """Notes with pauses around them, without noise: RMS ``level_db``, falling evenly by ``fall_db`` (taken in turn).

    A reed that is let go falls by 8.7 dB in ``decay_s``.
    """
    pieces = [np.zeros(round(PAUSE_S * RATE))]
    for number, hz in enumerate(pitches):
        tone = harmonic_tone(hz, seconds + PAUSE_S).astype(np.float64)
        tone *= 10.0 ** (level_db / 20.0) / float(np.sqrt(np.mean(tone**2)))
        time = np.arange(len(tone)) / RATE
        shape = np.minimum(1.0, time / 0.02) * np.exp(-np.maximum(0.0, time - seconds) / decay_s)
        fall = fall_db[number % len(fall_db)] * np.clip(time / seconds, 0.0, 1.0)
        pieces.append(tone * shape * 10.0 ** (-fall / 20.0))
    return np.concatenate(pieces)


def in_room(sound: Sound) -> Sound:
    """The sound over the noise of :data:`ROOM`."""
    return sound + noise(len(sound))


def see(sound: Sound, room: LearnedRoom = ROOM) -> Played:
    """What is seen of that sound, through the real follower with the gate of the room, in blocks of 128."""
    samples = sound.astype(np.float32)
    meter = PlayedMeter(RATE, FLOOR_HZ, room)
    settings = FollowSettings(gate=GateSettings(open_db=room.open_db, close_db=room.close_db))
    follower = make_follower(settings, RATE, FLOOR_HZ)
    for block in blocks_of(samples, 128):
        meter.hear(block)
        for frame in follower.follow(block):
            cents = cents_between(frame.hz, 440.0) if frame.hz > 0.0 else 0.0
            meter.know(PitchPoint(frame.time_s, frame.ready_s, frame.hz, cents, frame.level_db, frame.clean))
    return meter.played()
