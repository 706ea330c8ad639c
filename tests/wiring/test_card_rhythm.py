"""How evenly a sound card calls; times are made, none is measured."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.timings import Timings
from bridge.wiring.card_rhythm import CardRhythm

BLOCK_S = 128 / 48000


def test_even_calls_are_a_block_apart() -> None:
    """Nothing in a bunch, nothing late."""
    rhythm = CardRhythm(BLOCK_S)
    rhythm.called([number * BLOCK_S for number in range(1000)])
    assert rhythm.handed_s == pytest.approx(BLOCK_S)
    assert rhythm.blocks_at_once == 1
    assert rhythm.uneven_s < 0.05 * BLOCK_S


def test_a_longer_period_of_the_sound_server_is_a_bunch_of_calls() -> None:
    """Eight calls in a row every 21.3 ms, as JACK with 1024 frames gives them, read one at a time."""
    rhythm = CardRhythm(BLOCK_S)
    for number in range(800):
        rhythm.called([number // 8 * 8 * BLOCK_S + number % 8 * 5e-5])
    assert rhythm.blocks_at_once == 8
    assert rhythm.handed_s == pytest.approx(8 * BLOCK_S, rel=0.01)
    assert rhythm.uneven_s < 0.05 * 8 * BLOCK_S


def test_a_bunch_that_is_torn_apart_now_and_then_is_still_one() -> None:
    """Every fifth is split in the middle by 2 ms."""
    rhythm = CardRhythm(BLOCK_S)
    for number in range(800):
        torn_s = 0.002 if number // 8 % 5 == 0 and number % 8 >= 4 else 0.0
        rhythm.called([number // 8 * 8 * BLOCK_S + number % 8 * 5e-5 + torn_s])
    assert rhythm.blocks_at_once == 8


def test_calls_that_stray_are_uneven() -> None:
    """Two in a hundred calls 4 ms late: so late 99 of 100 are at most, within the steps of the count."""
    late = np.zeros(2000)
    late[::50] = 0.004
    rhythm = CardRhythm(2 * BLOCK_S)
    rhythm.called(list(np.arange(2000) * 2 * BLOCK_S + late))
    assert rhythm.uneven_s == pytest.approx(0.004, rel=Timings.STEP**2 - 1.0)
    assert rhythm.between.most_s == pytest.approx(0.004 + 2 * BLOCK_S)
    assert rhythm.latest_s == pytest.approx(0.004, rel=1e-3)


def test_a_card_that_was_away_is_not_uneven() -> None:
    """It calls evenly, is gone for five seconds, and calls evenly again: that it was gone is told elsewhere."""
    rhythm = CardRhythm(BLOCK_S)
    rhythm.called([number * BLOCK_S for number in range(100)])
    rhythm.called([5.0 + number * BLOCK_S for number in range(100)])
    assert rhythm.between.count == 2 * 99
    assert rhythm.latest_s < 0.05 * BLOCK_S
