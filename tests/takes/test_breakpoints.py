"""Breakpoints keep to every frame, and are as few as an exhaustive search finds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.takes.breakpoints import Floats, Tolerance, fewest_breakpoints
from bridge.takes.edited import Breakpoint

USUAL = Tolerance(3.0, 0.04)
#: Frames of the own follower are 64 samples of 48 kHz apart.
HOP_S = 64 / 48000
Array = NDArray[np.float64]


@st.composite
def any_curves(draw: st.DrawFn) -> tuple[Array, Array, Array]:
    """Times, bends and breath of up to 60 frames: still, gliding, jumping or anything."""
    count = draw(st.integers(1, 60))
    gaps = draw(st.lists(st.floats(0.0005, 0.05), min_size=count, max_size=count))
    steps = draw(st.lists(st.sampled_from([0.0, 0.5, -2.0, 7.0, -40.0]), min_size=count, max_size=count))
    breaths = draw(st.lists(st.sampled_from([0.3, 0.31, 0.33, 0.5, 0.9]), min_size=count, max_size=count))
    return np.cumsum(gaps), np.cumsum(steps), np.array(breaths)


def strays(points: list[Breakpoint], at_s: Floats, bends: Floats, breaths: Floats) -> tuple[float, float]:
    """How far the lines between the points are from the frames at most: cents and breath."""
    corners = [point.at_s for point in points]
    bend = np.abs(np.interp(at_s, corners, [point.bend_cents for point in points]) - bends)
    breath = np.abs(np.interp(at_s, corners, [point.breath for point in points]) - breaths)
    return float(np.max(bend)), float(np.max(breath))


def fewest_by_trying(at_s: Floats, bends: Floats, breaths: Floats) -> int:
    """The fewest corners on frames, every pair of frames tried: a shortest path in the graph of shortcuts."""
    times, cents, blown = np.round(at_s, 5), np.round(bends, 2), np.round(breaths, 3)
    needed = [1] + [10**6] * (len(at_s) - 1)
    for end in range(1, len(at_s)):
        for begin in range(end):
            part = (at_s[begin + 1 : end] - times[begin]) / (times[end] - times[begin])
            off = np.abs(cents[begin] + part * (cents[end] - cents[begin]) - bends[begin + 1 : end])
            less = np.abs(blown[begin] + part * (blown[end] - blown[begin]) - breaths[begin + 1 : end])
            if np.all(off <= USUAL.bend_cents + 1e-7) and np.all(less <= USUAL.breath + 1e-7):
                needed[end] = min(needed[end], needed[begin] + 1)
    return needed[-1]


@given(any_curves())
@settings(max_examples=300)
def test_no_frame_is_left_by_more_than_the_tolerance(curve: tuple[Array, Array, Array]) -> None:
    """Times rise, begin with the first frame and end with the last, and every frame is kept to."""
    points = fewest_breakpoints(*curve, USUAL)
    times = [point.at_s for point in points]
    assert times == sorted(set(times))
    assert times[0] == pytest.approx(curve[0][0], abs=1e-5)
    assert times[-1] == pytest.approx(curve[0][-1], abs=1e-5)
    bend, breath = strays(points, *curve)
    # A corner on a steep slope may be off by the last decimal of its time: 40 cents in 0.5 ms for half of 10 us.
    assert bend <= 3.0 + 0.5
    assert breath <= 0.04 + 0.01


@given(any_curves())
def test_with_every_frame_followed_there_are_no_fewer(curve: tuple[Array, Array, Array]) -> None:
    """As few as an exhaustive search finds; the usual search needs one more, or one in twenty, at most."""
    fewest = fewest_by_trying(*curve)
    assert len(fewest_breakpoints(*curve, USUAL, furthest=len(curve[0]))) == fewest
    assert len(fewest_breakpoints(*curve, USUAL)) <= fewest + max(1, fewest // 20)


@given(st.floats(3.0, 9.0), st.floats(5.0, 60.0), st.integers(0, 1000))
def test_a_vibrato_is_kept_with_a_tenth_of_the_numbers(rate_hz: float, cents: float, seed: int) -> None:
    """Vibrato of 4-8 Hz and 10-60 cents (shared/facts.md) over a swelling breath, with the noise of a follower."""
    random = np.random.default_rng(seed)
    at_s = np.arange(750) * HOP_S + 0.012
    bends = -30.0 + cents * np.sin(2 * np.pi * rate_hz * at_s) + random.normal(0.0, 0.3, len(at_s))
    breaths = np.clip(0.7 - 0.6 * np.exp(-at_s / 0.03) + random.normal(0.0, 0.004, len(at_s)), 0.0, 1.0)
    points = fewest_breakpoints(at_s, bends, breaths, USUAL)
    bend, breath = strays(points, at_s, bends, breaths)
    assert bend <= 3.0 + 0.05
    assert breath <= 0.04 + 0.001
    assert 10 * len(points) <= len(at_s)


def test_a_straight_line_needs_its_two_ends() -> None:
    """However many frames it has; one frame needs one point."""
    at_s = np.arange(5000) * HOP_S
    line = fewest_breakpoints(at_s, -90.0 + 10.0 * at_s, np.full(len(at_s), 0.5), USUAL)
    assert line[0] == Breakpoint(0.0, -90.0, 0.5)
    assert len(line) == 2
    assert fewest_breakpoints(at_s[:1], np.array([-0.001]), np.array([0.25]), USUAL) == [Breakpoint(0.0, 0.0, 0.25)]


def test_a_wider_tolerance_needs_fewer() -> None:
    """What is set is what is kept."""
    at_s = np.arange(750) * HOP_S
    bends, breaths = 50.0 * np.sin(2 * np.pi * 6 * at_s), np.full(len(at_s), 0.5)
    counts = [len(fewest_breakpoints(at_s, bends, breaths, Tolerance(cents, 0.04))) for cents in (1.0, 3.0, 10.0)]
    assert counts == sorted(counts, reverse=True)
    assert len(set(counts)) == 3
