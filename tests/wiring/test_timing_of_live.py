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


def test_work_that_begins_more_than_four_blocks_late_was_held_up() -> None:
    """A sound server that hands over eight at once holds nothing up; a call that waited while five more came was."""
    timing = LiveTiming(BLOCK_S)
    timing.count([1.0 + 1e-5 * each for each in range(8)], 1.001, 1.002, 8 * BLOCK_S)
    assert timing.behind == 0
    timing.count([2.0 + BLOCK_S * each for each in range(4)], 2.0 + 3.9 * BLOCK_S, 2.02, 4 * BLOCK_S)
    assert timing.behind == 0
    timing.count([3.0 + BLOCK_S * each for each in range(6)], 3.0 + 5.1 * BLOCK_S, 3.02, 6 * BLOCK_S)
    assert timing.behind == 1


def test_a_source_without_a_card_counts_nothing() -> None:
    """A file has no calls: nothing was sent late, and nothing took too long."""
    timing = LiveTiming(BLOCK_S)
    timing.count([], 0.0, 1.0, BLOCK_S)
    assert (timing.sent.count, timing.overruns) == (0, 0)


def test_one_line_says_how_soon() -> None:
    """Half, 99 of 100, the longest; what was late only where something was."""
    assert "later than" not in counted(*[0.001] * 100).words()[0]
    words = counted(*[0.001] * 199, 0.05).words()[0]
    assert "1.0 ms, 99 of 100 within 1.0, the longest 50.0; 1 of 200 blocks later than 3.0 ms" in words
    assert words.endswith("; 1 took longer to work out than they last.")


def test_another_line_says_how_evenly_the_card_called_and_what_was_held_up() -> None:
    """Nothing of it where the card called but once; what was held up only where something was."""
    assert len(counted(0.001).words()) == 1
    timing = LiveTiming(BLOCK_S)
    late_s = {500: 0.0041}
    for number in range(1000):
        called_s = number * BLOCK_S + late_s.get(number, 0.0)
        timing.count([called_s], called_s, called_s + 0.001, BLOCK_S)
    assert timing.words()[1] == "The sound card called every 2.7 ms, at worst 4.1 ms late."
    timing.count([2.667], 2.687, 2.688, BLOCK_S)
    assert timing.words()[1] == "The sound card called every 2.7 ms, at worst 4.1 ms late; once the work was held up."
    timing.count([2.670], 2.690, 2.691, BLOCK_S)
    assert timing.words()[1].endswith("; 2 times the work was held up.")
