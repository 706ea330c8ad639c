"""The count-in: clicks where they belong, and quiet."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import find_peaks, hilbert

from bridge.study.clicks import PEAK_DB, count_in


@pytest.mark.parametrize("rate", [8000, 44100, 48000])
def test_clicks_lie_on_the_beat_and_are_quiet(rate: int) -> None:
    """Four a beat apart after the lead, by SciPy's envelope of them; never louder than -26 dBFS; then silence."""
    sound = count_in(4, 0.5, 5.0, rate, 0.3)
    assert len(sound) == 5 * rate
    assert np.max(np.abs(sound)) == pytest.approx(10.0 ** (PEAK_DB / 20.0), rel=1e-5)
    envelope = np.abs(hilbert(sound))
    peaks, _ = find_peaks(envelope, height=0.4 * np.max(envelope), distance=rate // 10)
    np.testing.assert_allclose(peaks / rate, [0.3, 0.8, 1.3, 1.8], atol=0.004)
    assert not sound[: round(0.3 * rate)].any()
    assert not sound[round(1.9 * rate) :].any()


def test_a_click_that_does_not_fit_is_cut() -> None:
    """The sound has the length it should have."""
    assert len(count_in(4, 1.0, 2.005, 8000)) == 16040
