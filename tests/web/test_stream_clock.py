"""Which second of the stream comes in at a time of the machine's clock."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.web.stream_clock import StreamClock


def test_nothing_is_known_before_anything_came() -> None:
    """Then it is as the sound says."""
    clock = StreamClock()
    assert clock.at(5.0) is None
    clock.add(1.0, 101.0)
    assert clock.at(105.5) == pytest.approx(5.5)


def test_what_comes_late_is_not_believed() -> None:
    """Blocks that are some milliseconds late, as they are on a busy machine, and one by a second."""
    late_s = np.random.default_rng(1).exponential(0.01, 4000)
    clock = StreamClock()
    for number, late in enumerate(late_s):
        ready_s = 0.005 * number
        clock.add(ready_s, 100.0 + ready_s + late)
    clock.add(20.0, 121.0)
    assert clock.at(121.0) == pytest.approx(21.0, abs=0.0005)


def test_a_sound_card_that_drifts_is_followed() -> None:
    """100 ppm, much for a sound card (from memory): after ten minutes that is 60 ms, of which nothing is left over."""
    clock = StreamClock()
    for number in range(60_000):
        clock.add(0.01 * number, 0.01 * number * 1.0001)
    assert clock.at(600.06) == pytest.approx(600.0, abs=0.001)
