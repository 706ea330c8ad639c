"""The tempo from where notes begin: right where there is a steady one, none where there is not.

The performances are made here, so their tempo is known. What beat listeners would tap is a convention; twice and half
of what was meant are let pass only where that is said.
"""

from __future__ import annotations

from collections import Counter

import mir_eval
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.study.tempo_estimate import TempoEstimate, estimate_tempo

#: Where notes begin within a beat.
SWUNG = ((0.0,), (0.0, 2.0 / 3.0), (0.0, 2.0 / 3.0), ())
MIXED = ((0.0,), (0.0, 0.5), (0.0, 2.0 / 3.0), (0.0, 1.0 / 3.0, 2.0 / 3.0), (0.0, 0.75), (0.0, 0.25, 0.5), ())
#: How far notes are off, one standard deviation, s.
OFF_S = 0.01


def performance(pace: float, beats: tuple[tuple[float, ...], ...], rng: np.random.Generator) -> list[float]:
    """Starts of the notes of 40 beats, the first of which begins at 1.3 s."""
    places = [0.0, *(beat + part for beat in range(1, 40) for part in beats[rng.integers(len(beats))])]
    return [1.3 + 60.0 / pace * place + float(rng.normal(0.0, OFF_S)) for place in places]


@pytest.mark.parametrize(("beats", "right"), [(((0.0,),), 0.9), (SWUNG, 0.75), (MIXED, 0.6)])
def test_a_steady_tempo_is_found(beats: tuple[tuple[float, ...], ...], right: float) -> None:
    """Of 100 performances between 65 and 150, counted right within 4 % (mir_eval's tempo metric, one tempo)."""
    rng = np.random.default_rng(5)
    told: Counter[bool] = Counter()
    for _ in range(100):
        pace = float(rng.uniform(65.0, 150.0))
        found = estimate_tempo(performance(pace, beats, rng))
        if found is not None:
            guess = np.array([found.quarters_per_minute, 0.0])
            _, hit, _ = mir_eval.tempo.detection(np.array([pace, 0.0]), 1.0, guess, tol=0.04)
            told[bool(hit)] += 1
    assert told[True] >= 100 * right
    assert told[False] <= 30


def test_the_first_beat_is_where_it_was_played() -> None:
    """Swing at 96: within 15 ms, though every second note is off the beat."""
    found = estimate_tempo(performance(96.0, SWUNG, np.random.default_rng(2)))
    assert isinstance(found, TempoEstimate)
    assert found.quarters_per_minute == pytest.approx(96.0, abs=0.5)
    assert found.first_beat_s == pytest.approx(1.3, abs=0.015)
    assert 0.8 < found.sure <= 1.0


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(8, 200))
def test_notes_without_a_pulse_have_no_tempo(seed: int, count: int) -> None:
    """Distances from 0.12 to 0.9 s, all alike likely: at most by chance, which one in a hundred may be."""
    starts = np.cumsum(np.random.default_rng(seed).uniform(0.12, 0.9, count))
    found = estimate_tempo(starts.tolist())
    assert found is None or found.sure < 0.9


def test_hardly_ever_is_a_tempo_found_where_none_is() -> None:
    """Of 300 such performances at most three."""
    rng = np.random.default_rng(3)
    found = [estimate_tempo(np.cumsum(rng.exponential(0.35, rng.integers(10, 80))).tolist()) for _ in range(300)]
    assert sum(estimate is not None for estimate in found) <= 3


@pytest.mark.parametrize("starts", [[], [1.0], [1.0] * 20, [0.0, 0.5, 1.0, 1.5]])
def test_a_few_notes_are_too_few(starts: list[float]) -> None:
    """Seven or fewer beginnings say nothing."""
    assert estimate_tempo(starts) is None


def test_a_tempo_that_wanders_is_none() -> None:
    """Each beat some 6 % longer or shorter than the last: of 40 such performances at most two stay near one tempo."""
    rng = np.random.default_rng(4)
    wandering = [np.cumsum(0.6 * np.exp(np.cumsum(rng.normal(0.0, 0.06, 60)))) for _ in range(40)]
    assert sum(estimate_tempo(starts.tolist()) is not None for starts in wandering) <= 2
