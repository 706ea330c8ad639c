"""The level that gate, strokes and breath are made of."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.base.units import SILENCE_DB
from bridge.follow.level import Level, LevelHistory
from follow.tones import RATE, harmonic_tone


def energy_of(samples: NDArray[np.floating]) -> NDArray[np.float64]:
    """The running sum of squares."""
    return np.concatenate([[0.0], np.cumsum(np.asarray(samples, np.float64) ** 2)])


@pytest.mark.parametrize("hz", [100.0, 174.6, 440.0, 1568.0, 3135.9])
def test_a_full_sine_has_minus_three_decibels(hz: float) -> None:
    """The RMS of a full-scale sine is 3.01 dB under full scale (definition), at every end when its period is known."""
    sine = np.sin(2.0 * np.pi * hz * np.arange(RATE // 4) / RATE)
    energy, level = energy_of(sine), Level(RATE)
    found = [level.short_db(energy, end, level.window(RATE / hz)) for end in range(2000, 3000, 7)]
    assert found == pytest.approx([-3.0103] * len(found), abs=0.2)


def test_an_unknown_period_makes_the_level_of_a_low_reed_ripple() -> None:
    """Five milliseconds of a reed at 130.8 Hz are no whole period: without the period the level moves, with it not."""
    energy, level = energy_of(harmonic_tone(130.8, 0.2)), Level(RATE)
    ends = range(4000, 8000, 32)
    without = np.ptp([level.short_db(energy, end, level.window(0.0)) for end in ends])
    known = np.ptp([level.short_db(energy, end, level.window(RATE / 130.8)) for end in ends])
    assert known < 0.1
    assert without > 1.0


def test_the_running_sum_is_that_of_the_samples_kept() -> None:
    """However the samples come in, the levels at the end are those of one long array."""
    rng = np.random.default_rng(4)
    samples = rng.standard_normal(20000)
    whole, level = energy_of(samples), Level(RATE)
    history, done = LevelHistory(1200), 0
    for size in (64, 1, 5000, 0, 1024, 128):
        history.push(samples[done : done + size])
        energy, end = history.energy, history.end
        done += size
        for period in (0.0, 48.0, 480.0) if done >= 1200 else ():
            window = level.window(period)
            assert level.short_db(energy, end, window) == pytest.approx(level.short_db(whole, done, window), abs=1e-9)
            assert level.breath_db(energy, end) == pytest.approx(level.breath_db(whole, done), abs=1e-9)


def test_before_any_sound_there_is_silence() -> None:
    """A history that has heard nothing is silent."""
    history = LevelHistory(1000)
    history.push(np.zeros(0))
    energy, end = history.energy, history.end
    level = Level(RATE)
    assert level.short_db(energy, end, level.window(0.0)) == level.breath_db(energy, end) == SILENCE_DB
