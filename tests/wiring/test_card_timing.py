"""What a sound card's calls and the work on its blocks are counted as; times are made, none is measured."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.base.timings import Timings
from bridge.wiring.card_timing import CardTiming

BLOCK_S = 128 / 48000


def test_even_calls_are_a_block_apart() -> None:
    """Nothing in a bunch, nothing late."""
    timing = CardTiming(BLOCK_S)
    timing.called([number * BLOCK_S for number in range(1000)])
    assert timing.handed_s == pytest.approx(BLOCK_S)
    assert timing.blocks_at_once == 1
    assert timing.uneven_s < 0.05 * BLOCK_S


def test_a_longer_period_of_the_sound_server_is_a_bunch_of_calls() -> None:
    """Eight calls in a row every 21.3 ms, as JACK with 1024 frames gives them, read one at a time."""
    timing = CardTiming(BLOCK_S)
    for number in range(800):
        timing.called([number // 8 * 8 * BLOCK_S + number % 8 * 5e-5])
    assert timing.blocks_at_once == 8
    assert timing.handed_s == pytest.approx(8 * BLOCK_S, rel=0.01)
    assert timing.uneven_s < 0.05 * 8 * BLOCK_S


def test_a_bunch_that_is_torn_apart_now_and_then_is_still_one() -> None:
    """Every fifth is split in the middle by 2 ms."""
    timing = CardTiming(BLOCK_S)
    for number in range(800):
        torn_s = 0.002 if number // 8 % 5 == 0 and number % 8 >= 4 else 0.0
        timing.called([number // 8 * 8 * BLOCK_S + number % 8 * 5e-5 + torn_s])
    assert timing.blocks_at_once == 8


def test_calls_that_stray_are_uneven() -> None:
    """Two in a hundred calls 4 ms late: so late 99 of 100 are at most, within the steps of the count."""
    late = np.zeros(2000)
    late[::50] = 0.004
    timing = CardTiming(2 * BLOCK_S)
    timing.called(list(np.arange(2000) * 2 * BLOCK_S + late))
    assert timing.uneven_s == pytest.approx(0.004, rel=Timings.STEP**2 - 1.0)
    assert timing.between.most_s == pytest.approx(0.004 + 2 * BLOCK_S)


def test_work_counts_for_one_block() -> None:
    """Four blocks read at once and worked on for 4 ms are 1 ms each; none came before the first call."""
    timing = CardTiming(BLOCK_S)
    timing.worked([1.0], 1.0, 1.004, 4 * BLOCK_S)
    assert timing.work.quantile(0.5) == pytest.approx(0.001)
    assert timing.answer.sent.most_s == pytest.approx(0.004)
    assert timing.handed_s == BLOCK_S
