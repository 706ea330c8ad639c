"""The cost of one hop, ours beside a peer's: printed by pytest-benchmark, and pinned as a ratio within one run.

A time says more about the machine and what else it does than about the follower; the ratio to a peer timed in turns
with it in the same run does not, and that alone is asserted.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import count
from typing import TypeVar

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from bench.peers import aubio_pitch
from bridge.base.events import AudioBlock, PitchFrame
from bridge.capture.player import PlayedNote, perform
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings
from sounds.known import Floats

Made = TypeVar("Made")
RATE, ROUNDS = 48000, 3000
OUR_HOP, PEER_HOP = 64, 128
#: A reed of a C harp and the lowest of a low F harp, each with the floor of its harp, Hz.
C_HARP, LOW_F_HARP = (440.0, 247.0), (174.6, 164.8)
#: Turns of the two, and seconds of sound in each of them; the median of what each turn costs is taken.
TURNS, OUR_S, PEER_S = 15, 0.3, 2.0
#: Over the multiple once measured: what another processor or a busy one may make of it.
_MARGIN = 1.5


def reed(hz: float) -> Floats:
    """One second of a settled reed, nearly seamless when repeated."""
    return np.asarray(perform([PlayedNote(0.0, 1.4, hz)], RATE).samples[9600:57600], dtype=np.float64)


def our_hop(hz: float, floor_hz: float) -> Callable[[], list[PitchFrame]]:
    """What follows the next 64 samples of a held reed."""
    samples, hops = reed(hz).astype(np.float32), count()
    follower = make_follower(FollowSettings(), RATE, floor_hz)

    def hop() -> list[PitchFrame]:
        start = OUR_HOP * next(hops)
        at = start % RATE
        return follower.follow(AudioBlock(start, RATE, samples[at : at + OUR_HOP]))

    return hop


def peer_hop(hz: float) -> Callable[[], float]:
    """What hears the next 128 samples of it with aubio's yinfft in a window of 1024."""
    samples, hops, pitch = reed(hz).astype(np.float32), count(), aubio_pitch("yinfft", 1024, PEER_HOP, RATE)

    def hop() -> float:
        at = (PEER_HOP * next(hops)) % RATE
        return float(pitch(samples[at : at + PEER_HOP])[0])

    return hop


def run(benchmark: BenchmarkFixture, hop: Callable[[], Made]) -> Made:
    """Time many hops; what the last one gave."""
    made: Made = benchmark.pedantic(hop, rounds=ROUNDS, warmup_rounds=200)  # type: ignore[no-untyped-call]
    return made


def test_one_hop_of_ours(benchmark: BenchmarkFixture) -> None:
    """64 samples of a held reed on a C harp give one frame with its pitch."""
    frames = run(benchmark, our_hop(*C_HARP))
    assert abs(1200 * np.log2(frames[-1].hz / C_HARP[0])) < 2.0


def test_one_hop_of_aubio(benchmark: BenchmarkFixture) -> None:
    """128 samples of the same reed through aubio's yinfft give its pitch."""
    assert abs(1200 * np.log2(run(benchmark, peer_hop(C_HARP[0])) / C_HARP[0])) < 10.0


def cpu_s(hop: Callable[[], object], hops: int) -> float:
    """Time of the processor that so many hops take, in seconds."""
    began = time.thread_time()
    for _ in range(hops):
        hop()
    return time.thread_time() - began


@pytest.mark.parametrize(("harp", "measured"), [(C_HARP, 25.0), (LOW_F_HARP, 27.0)], ids=["C", "low F"])
def test_a_second_of_sound_costs_no_more_than_so_many_of_aubio(harp: tuple[float, float], measured: float) -> None:
    """Per second of a held reed our follower takes at most 1.5 times its measured multiple of aubio's yinfft."""
    ours, peer = our_hop(*harp), peer_hop(harp[0])
    our_hops, peer_hops = round(OUR_S * RATE / OUR_HOP), round(PEER_S * RATE / PEER_HOP)
    turns = [(cpu_s(ours, our_hops) / OUR_S, cpu_s(peer, peer_hops) / PEER_S) for _ in range(TURNS)]
    ratio = float(np.median([our_s for our_s, _ in turns]) / np.median([peer_s for _, peer_s in turns]))
    assert ratio < _MARGIN * measured
