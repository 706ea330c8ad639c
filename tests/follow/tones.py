"""Tones with exactly known pitch, made independently of the project's own synthetic player."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import AudioBlock, PitchFrame
from bridge.follow.follower import Follower
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings

RATE = 48000


def harmonic_tone(
    hz: float | NDArray[np.float64], seconds: float = 0.5, *, partials: Sequence[float] | None = None, rate: int = RATE
) -> NDArray[np.float32]:
    """A sum of harmonics of ``hz`` (constant, or one value a sample), those above 0.4 of the rate left out.

    ``partials`` are the amplitudes of the first, second, ... harmonic; 1/n without.
    """
    count = round(seconds * rate)
    f0 = np.broadcast_to(np.asarray(hz, np.float64), (count,))
    phase = 2.0 * np.pi * np.concatenate([[0.0], np.cumsum((f0[1:] + f0[:-1]) / 2.0 / rate)])
    amplitudes = partials if partials is not None else [1.0 / n for n in range(1, 21)]
    tone = np.zeros(count)
    for number, amplitude in enumerate(amplitudes, start=1):
        if number * float(f0.max()) < 0.4 * rate:
            tone += amplitude * np.cos(number * phase + number * number)
    return np.asarray(0.2 * tone / np.sqrt(np.mean(tone**2)), np.float32)


def blocks_of(samples: NDArray[np.float32], size: int, rate: int = RATE) -> list[AudioBlock]:
    """The samples as blocks of ``size``."""
    return [AudioBlock(start, rate, samples[start : start + size]) for start in range(0, len(samples), size)]


def follow_all(
    samples: NDArray[np.float32],
    *,
    size: int = 4800,
    rate: int = RATE,
    floor_hz: float = 150.0,
    settings: FollowSettings | None = None,
    follower: Follower | None = None,
) -> list[PitchFrame]:
    """Every frame of the samples, fed in blocks of ``size``."""
    chosen = follower or make_follower(settings or FollowSettings(), rate, floor_hz)
    return [frame for block in blocks_of(samples, size, rate) for frame in chosen.follow(block)]


def cents_off(frames: Sequence[PitchFrame], hz: float) -> NDArray[np.float64]:
    """Deviation in cents of every sounding frame from ``hz``."""
    return np.array([1200.0 * np.log2(frame.hz / hz) for frame in frames if frame.hz > 0.0])
