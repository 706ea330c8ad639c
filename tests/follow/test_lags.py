"""The likeness of lags against its definition, and the place of its peaks against exact periods."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.follow.lags import LagHistory, Refiner, parabola
from follow.tones import RATE, harmonic_tone

HOP = 64


def _history() -> LagHistory:
    return LagHistory(hop=HOP, longest_lag=300, window_lags=1.25, shortest_hops=3, keep=900)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), lag=st.integers(1, 300), cuts=st.lists(st.integers(1, 39), max_size=4))
def test_likeness_is_its_definition(seed: int, lag: int, cuts: list[int]) -> None:
    """However the hops are batched, a row holds the NSDF as McLeod & Wyvill (ICMC 2005) define it."""
    samples = np.random.default_rng(seed).standard_normal(HOP * 40)
    history = _history()
    edges = [0, *sorted(set(cuts)), 40]
    rows = [history.append(samples.reshape(-1, HOP)[a:b]) for a, b in pairwise(edges)]
    window = HOP * max(3, int(np.ceil(1.25 * lag / HOP)))
    new, old = samples[-window:], samples[-window - lag : -lag]
    assert rows[-1][-1][lag] == pytest.approx(2.0 * (new @ old) / (new @ new + old @ old), abs=1e-9)


@pytest.mark.parametrize("hz", [165.0, 233.1, 415.3, 1046.5, 2093.0, 3136.0])
def test_refining_finds_the_period_between_the_samples(hz: float) -> None:
    """The refined lag of a harmonic tone is its period to within 0.05 cents."""
    history = _history()
    history.append(harmonic_tone(hz, 0.1).astype(np.float64)[: HOP * 70].reshape(-1, HOP))
    times = max(1, int(230 * hz / RATE))
    lag, likeness = Refiner().refine(history, int(history.ends[-1]), times * RATE / hz + 0.4, 300)
    assert abs(1200.0 * np.log2(lag / times * hz / RATE)) < 0.05
    assert likeness > 0.998


def test_a_parabola_through_three_points_has_its_known_top() -> None:
    """The top of y = 3 - (x - 0.2)**2 is found from three of its points."""
    assert parabola(3 - 1.44, 3 - 0.04, 3 - 0.64) == pytest.approx((0.2, 3.0))


def test_a_valley_has_no_top() -> None:
    """Points that open upwards leave the middle one standing."""
    assert parabola(2.0, 1.0, 2.0) == (0.0, 1.0)
