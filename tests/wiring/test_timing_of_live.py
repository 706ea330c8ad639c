"""How soon a live performance answers its sound card, counted block by block, and what is told of it."""

from __future__ import annotations

import pytest

from bridge.base.timings import Timings
from bridge.wiring.live_timing import LiveTiming

BLOCK_S = 128 / 48000


def counted(*delays_s: float, lasts_s: float = BLOCK_S) -> LiveTiming:
    """Blocks whose one call came so long before all was sent, the work beginning with the call."""
    timing = LiveTiming(BLOCK_S)
    for number, delay_s in enumerate(delays_s):
        timing.count([float(number)], float(number), number + delay_s, lasts_s)
    return timing


def test_every_call_of_the_card_counts_to_the_moment_all_was_sent() -> None:
    """Three calls that were read together waited each for its own time."""
    timing = LiveTiming(BLOCK_S)
    timing.count([1.000, 1.002, 1.004], 1.005, 1.006, 3 * BLOCK_S)
    assert timing.sent.count == 3
    assert timing.sent.most_s == pytest.approx(0.006)
    assert timing.sent.quantile(0.5) == pytest.approx(0.004, rel=Timings.STEP - 1.0)
    assert (timing.overruns, timing.behind) == (0, 0)


def test_late_is_what_players_hear_as_unsteady() -> None:
    """Beyond 3 ms a block is late (10 +- 3 ms is rated worse than 10: Jack et al. 2018); a longer block may last."""
    assert counted(0.001, 0.0029, 0.0031, 0.02).told()[2] == 2
    assert LiveTiming(1024 / 48000).sent.limit_s == pytest.approx(1024 / 48000)


def test_work_that_takes_longer_than_its_block_lasts_is_an_overrun() -> None:
    """It is the work that counts, not the waiting before it."""
    assert counted(0.001, 0.004).overruns == 1
    timing = LiveTiming(BLOCK_S)
    timing.count([0.0], 0.010, 0.011, BLOCK_S)
    assert timing.overruns == 0


def test_more_than_four_calls_at_once_are_behind() -> None:
    """Four that wait are still as many as the ring is read by on a usual machine; five were held up."""
    timing = LiveTiming(BLOCK_S)
    timing.count([0.0] * 4, 0.001, 0.002, 4 * BLOCK_S)
    assert timing.behind == 0
    timing.count([0.0] * 5, 0.001, 0.002, 5 * BLOCK_S)
    assert timing.behind == 1


def test_a_source_without_a_card_counts_nothing() -> None:
    """A file has no calls: nothing was sent late, and nothing took too long."""
    timing = LiveTiming(BLOCK_S)
    timing.count([], 0.0, 1.0, BLOCK_S)
    assert (timing.sent.count, timing.overruns) == (0, 0)


def test_one_line_says_it_all() -> None:
    """Half, 99 of 100, the longest; what was late only where something was."""
    assert "later than" not in counted(*[0.001] * 100).words()
    words = counted(*[0.001] * 199, 0.05).words()
    assert "1.0 ms, 99 of 100 within 1.0, the longest 50.0; 1 of 200 blocks later than 3.0 ms" in words
    assert words.endswith("; 1 took longer to work out than they last.")
