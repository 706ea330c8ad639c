"""Times counted in bins: quantiles as numpy has them, to the width of a bin."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.timings import Timings

TIMES = st.lists(st.floats(1e-6, 1000.0), min_size=1, max_size=200)


def counted(times: list[float], limit_s: float = 1.0) -> Timings:
    """All of them added."""
    timings = Timings(limit_s)
    for seconds in times:
        timings.add(seconds)
    return timings


@given(TIMES, st.floats(0.0, 1.0))
def test_a_quantile_is_within_a_step_of_the_one_that_numpy_finds(times: list[float], part: float) -> None:
    """Source: numpy.quantile, method inverted_cdf, which gives one of the times themselves (Hyndman and Fan 1996)."""
    true = float(np.quantile(times, part, method="inverted_cdf"))
    assert true / (1.0 + 1e-9) <= counted(times).quantile(part) <= true * Timings.STEP * (1.0 + 1e-9)


def test_quantiles_of_many_random_times() -> None:
    """Of 10,000 times spread like delays are, p50, p90 and p99 lie within 4.4 % of numpy's."""
    times = np.random.default_rng(1).lognormal(np.log(2e-3), 0.6, 10_000)
    timings = counted(times.tolist())
    for part in (0.5, 0.9, 0.99):
        assert timings.quantile(part) == pytest.approx(np.quantile(times, part), rel=Timings.STEP - 1.0)


@given(TIMES, st.floats(0.0, 1000.0))
def test_what_is_counted_beyond_the_limit_and_the_longest_are_exact(times: list[float], limit_s: float) -> None:
    """Neither depends on the bins."""
    timings = counted(times, limit_s)
    assert timings.count == len(times)
    assert timings.over == sum(seconds > limit_s for seconds in times)
    assert timings.most_s == timings.quantile(1.0) == max(times)


def test_times_outside_the_bins_are_counted_at_their_ends() -> None:
    """No time at all, one below 0 as from a clock that was set, and one of a day are three times."""
    timings = counted([0.0, -1.0, 86400.0])
    assert timings.count == 3
    assert timings.quantile(0.5) <= 1e-6
    assert timings.most_s == 86400.0
    assert timings.quantile(1.0) <= 86400.0


def test_without_any_there_is_nothing_to_tell() -> None:
    """An empty count gives 0."""
    assert Timings(1.0).quantile(0.5) == 0.0
