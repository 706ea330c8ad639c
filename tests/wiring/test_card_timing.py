"""What the work on a sound card's blocks is counted as; times are made, none is measured."""

from __future__ import annotations

import pytest

from bridge.wiring.card_timing import CardTiming

BLOCK_S = 128 / 48000


def test_work_counts_for_one_block() -> None:
    """Four blocks read at once and worked on for 4 ms are 1 ms each; none came before the first call."""
    timing = CardTiming(BLOCK_S)
    timing.worked([1.0], 1.0, 1.004, 4 * BLOCK_S)
    assert timing.work.quantile(0.5) == pytest.approx(0.001)
    assert timing.answer.sent.most_s == pytest.approx(0.004)
    assert timing.rhythm.handed_s == BLOCK_S
