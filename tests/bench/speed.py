"""What it costs: live, hop by hop, in time of the processor, and a recording from file to take, by the clock.

Ours is from samples to events: follower and quantiser. Capture, sending and the page are not in it. A peer's is its
pitch alone, which is all it gives.

Run alone: other work on the machine spoils it.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from bench.cases import Case
from bench.noting import quantiser
from bench.peers import AUBIO_KINDS, aubio_pitch
from bridge.base.events import AudioBlock
from bridge.follow.making import make_follower
from bridge.follow.settings import FollowSettings
from bridge.quantise.hearing import Hearing
from bridge.quantise.settings import QuantiseSettings
from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings

HOP = 64
#: The harps that the cost is measured on: a common one, and the lowest, whose long periods cost most.
KEYS = ("A", "low-F")


def live_costs(cases: Sequence[Case], seconds: float) -> dict[str, tuple[float, float]]:
    """For each live row: CPU in percent of real time, and the p99 of one hop in microseconds, of the dearest case."""
    each = [_live_costs(case, seconds) for case in cases]
    return {row: max(costs[row] for costs in each) for row in each[0]}


def _live_costs(case: Case, seconds: float) -> dict[str, tuple[float, float]]:
    sound = case.sound
    samples = sound.samples[: round(seconds * sound.rate)]
    follower, chain = make_follower(FollowSettings(), sound.rate, case.floor_hz), quantiser(case)
    hearing = Hearing(QuantiseSettings(), tells_reeds=True, look_ahead=False)

    def one(start: int) -> None:
        for frame in follower.follow(AudioBlock(start, sound.rate, samples[start : start + HOP])):
            for heard in hearing.step(frame):
                chain.step(heard)

    costs = {"reedwire": _timed(one, len(samples), HOP, sound.rate)}
    for method, window, hop in AUBIO_KINDS:
        costs[f"aubio {method} {window}/{hop}"] = _timed_aubio(samples, method, window, hop, sound.rate)
    return costs


def transcribe_speed(case: Case, tries: int = 3) -> float:
    """Length of a recording over the shortest time in which it became a take."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sound.wav"
        soundfile.write(path, case.sound.samples, case.sound.rate)
        settings = load_settings(flags={"harp.key": case.key, "harp.a4_hz": case.a4_hz})
        best_s = float("inf")
        for _ in range(tries):
            began = time.perf_counter()
            transcribe_file(path, Path(folder), settings)
            best_s = min(best_s, time.perf_counter() - began)
        return case.sound.length_s / best_s


def plain_loop_ns() -> float:
    """How fast this machine is: nanoseconds of a round in which a plain loop of Python adds two numbers."""
    rounds, spent = 10**6, []
    for _ in range(5):
        total, began = 0, time.thread_time()
        for number in range(rounds):
            total += number
        spent.append(time.thread_time() - began)
    return 1e9 * min(spent) / rounds


def _timed_aubio(samples: NDArray[np.float32], method: str, window: int, hop: int, rate: int) -> tuple[float, float]:
    pitch = aubio_pitch(method, window, hop, rate)

    def one(start: int) -> None:
        pitch(samples[start : start + hop])
        pitch.get_confidence()

    return _timed(one, len(samples), hop, rate)


def _timed(one: Callable[[int], object], count: int, hop: int, rate: int) -> tuple[float, float]:
    """CPU percent and p99 in microseconds of ``one`` called for the start of every hop."""
    spent = []
    for start in range(0, count - hop + 1, hop):
        began = time.thread_time()
        one(start)
        spent.append(time.thread_time() - began)
    return 100.0 * sum(spent) / (len(spent) * hop / rate), 1e6 * float(np.quantile(spent, 0.99))
