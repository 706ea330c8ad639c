"""The cost of one hop: its time beside a peer's is printed by pytest-benchmark, the work in it is pinned.

A time says more about the machine and what else it does than about the follower, and even its ratio to a peer's moves
by half where two processes share a cache. What is asserted is therefore counted: the instructions of Python's virtual
machine in a hop, the same on every machine. numpy's own work in an array shows in the times only.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from itertools import count
from types import FrameType
from typing import Self, TypeVar

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
#: Hops to settle in, and hops counted: nearly a second, in which what is not looked at each hop has its turns.
SETTLING, COUNTED = 100, 750
#: What another version of Python may make of the count (3.11 was counted).
_MARGIN = 1.25


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


class InstructionCount:
    """A trace function that counts the instructions of Python's virtual machine."""

    def __init__(self) -> None:
        self.taken = 0

    def __call__(self, frame: FrameType, event: str, _: object) -> Self:
        """Count the instruction about to run, and have those of this frame reported."""
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        self.taken += event == "opcode"
        return self


def instructions(hop: Callable[[], object], hops: int) -> int:
    """How many instructions of the virtual machine so many hops take."""
    count_up, before = InstructionCount(), sys.gettrace()
    sys.settrace(count_up)
    try:
        for _ in range(hops):
            hop()
    finally:
        sys.settrace(before)
    return count_up.taken


@pytest.mark.parametrize(("harp", "measured"), [(C_HARP, 3400), (LOW_F_HARP, 3420)], ids=["C", "low F"])
def test_a_hop_takes_no_more_instructions_than_once_counted(harp: tuple[float, float], measured: int) -> None:
    """A hop of a held reed takes at most a quarter more instructions of the virtual machine than when it was pinned."""
    hop = our_hop(*harp)
    for _ in range(SETTLING):
        hop()
    assert 0 < instructions(hop, COUNTED) / COUNTED < _MARGIN * measured
