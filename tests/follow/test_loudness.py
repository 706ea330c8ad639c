"""The loudness in which strokes are looked for."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.follow.loudness import Loudness
from follow.tones import RATE, harmonic_tone

ENDS = np.arange(3000, 9000, 64)


def _loudness(samples: NDArray[np.floating], rate: int = RATE) -> NDArray[np.float64]:
    return Loudness(rate).at(np.asarray(samples, np.float64), ENDS)


def test_ten_decibels_more_of_everything_are_ten_more() -> None:
    """The exponent is taken back, so that a change of all bands alike has its own size."""
    tone = harmonic_tone(392.0, 0.25)
    assert _loudness(tone * 10.0**0.5) - _loudness(tone) == pytest.approx(10.0, abs=0.05)


def test_one_strong_partial_counts_little_more_than_a_weak_one() -> None:
    """A fundamental that sinks by 20 dB takes most of the power away but little of the loudness."""
    seconds = np.arange(12000) / RATE
    others = sum(0.1 * np.sin(2.0 * np.pi * k * 440.0 * seconds) for k in range(2, 12))
    strong, weak = (level * np.sin(2.0 * np.pi * 440.0 * seconds) + others for level in (1.0, 0.1))
    power_db = 10.0 * np.log10(np.mean(strong**2) / np.mean(weak**2))
    loudness_db = np.mean(_loudness(strong) - _loudness(weak))
    assert power_db > 9.0
    assert loudness_db < power_db / 3.0


def test_a_held_low_reed_is_even() -> None:
    """The window is long enough that the periods of a low F are not heard one by one."""
    assert np.ptp(_loudness(harmonic_tone(174.6, 0.25))) < 2.0


def test_digital_silence_has_a_loudness() -> None:
    """Nothing is a number too, and lower than any sound."""
    silence = _loudness(np.zeros(12000))
    assert np.all(np.isfinite(silence))
    assert np.all(silence < _loudness(harmonic_tone(392.0, 0.25) * 1e-3))
