"""A tempo from taps: the arithmetic alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.study.tempo_taps import TempoTaps


def tapped(times: list[float]) -> tuple[float, float] | None:
    """What the last of these taps makes."""
    taps, last = TempoTaps(), None
    for time_s in times:
        last = taps.tap(time_s)
    return last


@given(st.floats(40.0, 240.0), st.floats(0.0, 1000.0), st.integers(4, 32))
def test_even_taps_are_their_tempo_and_bar_1_is_the_first(pace: float, first_s: float, count: int) -> None:
    """60 seconds by the distance of two taps."""
    found = tapped([first_s + 60.0 / pace * number for number in range(count)])
    assert found == pytest.approx((pace, first_s), rel=1e-6, abs=1e-6)


def test_three_taps_are_too_few() -> None:
    """A bar of four is counted in."""
    assert tapped([0.0, 0.5, 1.0]) is None


@given(st.integers(0, 2**32 - 1))
def test_a_hand_that_is_a_little_off_is_averaged_out(seed: int) -> None:
    """Eight taps, each up to 20 ms off: the tempo within 1.3 of 100, bar 1 within 30 ms, mostly much nearer.

    The bounds are the most that a straight line through eight points can be off, all of them off at their worst: the
    sums of the absolute weights with which they count for its slope (16/42) and its beginning (1.5). Source: the normal
    equations of simple linear regression, worked out by hand.
    """
    off = np.random.default_rng(seed).uniform(-0.02, 0.02, 8)
    found = tapped([0.6 * number + float(off[number]) for number in range(8)])
    assert found is not None
    assert found[0] == pytest.approx(100.0, abs=1.3)
    assert abs(found[1]) <= 0.03 + 1e-9


def test_a_pause_begins_a_new_count_and_a_bounce_is_no_tap() -> None:
    """Four taps at 60, a pause, then four at 120, one of which bounces."""
    times = [0.0, 1.0, 2.0, 3.0, 10.0, 10.5, 10.55, 11.0, 11.5]
    assert tapped(times[:4]) == pytest.approx((60.0, 0.0))
    assert tapped(times[:5]) is None
    assert tapped(times) == pytest.approx((120.0, 10.0))
