"""The cost of one hop, ours beside a peer's, as pytest-benchmark prints it; nothing is asserted about time."""

from __future__ import annotations

from collections.abc import Callable
from itertools import count
from typing import TypeVar

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from bench.peers import aubio_pitch
from bridge.base.events import AudioBlock, PitchFrame
from bridge.capture.player import PlayedNote, perform
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings
from sounds.known import Floats

Made = TypeVar("Made")
RATE, ROUNDS = 48000, 3000
NOTE_HZ = 440.0


def reed() -> Floats:
    """One second of a settled reed at 440 Hz, seamless when repeated."""
    return np.asarray(perform([PlayedNote(0.0, 1.4, NOTE_HZ)], RATE).samples[9600:57600], dtype=np.float64)


def run(benchmark: BenchmarkFixture, hop: Callable[[], Made]) -> Made:
    """Time many hops; what the last one gave."""
    made: Made = benchmark.pedantic(hop, rounds=ROUNDS, warmup_rounds=200)  # type: ignore[no-untyped-call]
    return made


def test_one_hop_of_ours(benchmark: BenchmarkFixture) -> None:
    """64 samples of a held reed on a C harp give one frame with its pitch."""
    samples, follower, hops = reed().astype(np.float32), make_follower(FollowSettings(), RATE, 247.0), count()

    def hop() -> list[PitchFrame]:
        start = 64 * next(hops)
        at = start % RATE
        return follower.follow(AudioBlock(start, RATE, samples[at : at + 64]))

    frames = run(benchmark, hop)
    assert abs(1200 * np.log2(frames[-1].hz / NOTE_HZ)) < 2.0


def test_one_hop_of_aubio(benchmark: BenchmarkFixture) -> None:
    """128 samples of the same reed through aubio's yinfft with a window of 1024."""
    samples, pitch, hops = reed().astype(np.float32), aubio_pitch("yinfft", 1024, 128, RATE), count()

    def hop() -> float:
        at = (128 * next(hops)) % (RATE - 128)
        return float(pitch(samples[at : at + 128])[0])

    assert abs(1200 * np.log2(run(benchmark, hop) / NOTE_HZ)) < 10.0
