"""The time that two playings keep together: found as SciPy finds it, without the thirds, or told."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import theilslopes

from bridge.study.common_time import CommonTime, Starts, found_time, told_time
from bridge.study.marks import Beat


def starts(one: list[float], other: list[float], thirds: tuple[int, ...] = ()) -> list[Starts]:
    """Pairs of starts, of which those at ``thirds`` are thirds."""
    pairs = enumerate(zip(one, other, strict=True))
    return [Starts(one_s, other_s, place in thirds) for place, (one_s, other_s) in pairs]


def test_the_line_is_that_of_scipy() -> None:
    """The slope of Theil and Sen as SciPy has it, on starts with one outlier."""
    rng = np.random.default_rng(5)
    one = np.cumsum(rng.uniform(0.6, 1.4, 12))
    other = 2.3 + 1.25 * one + rng.normal(0.0, 0.01, 12)
    other[4] += 0.6
    found = found_time(starts(one.tolist(), other.tolist()))
    assert found is not None
    assert found.scale == pytest.approx(theilslopes(other, one)[0], rel=1e-9)
    assert found.at(0.0) == pytest.approx(2.3, abs=0.03)
    assert not found.told
    assert found.back(found.at(1.7)) == pytest.approx(1.7)


def test_the_other_notes_carry_the_beat() -> None:
    """Every third is late by 0.2 s, the roots are in time: the thirds do not move the time."""
    one = [0.5, 1.5, 4.5, 5.5, 8.5]
    other = [1.0, 2.2, 5.0, 6.2, 9.0]
    found = found_time(starts(one, other, thirds=(1, 3)))
    assert found == CommonTime(0.5, 1.0, told=False)


def test_thirds_alone_tell_the_time_where_there_are_three() -> None:
    """Fewer say nothing."""
    assert found_time(starts([0.0, 1.0, 2.0], [3.0, 5.0, 7.0], thirds=(0, 1, 2))) == CommonTime(3.0, 2.0, told=False)
    assert found_time(starts([0.0, 1.0], [3.0, 5.0])) is None


def test_other_music_keeps_no_time() -> None:
    """The same notes in another rhythm are in no common time, whatever line goes through them."""
    one, other = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0], [0.0, 0.4, 2.6, 2.9, 4.9, 5.2]
    assert found_time(starts(one, other)) is None
    assert found_time(starts([0.0, 1.0, 2.0, 3.0, 4.0], [0.0, 1.6, 2.0, 3.6, 4.0], thirds=(1, 3))) is None


@pytest.mark.parametrize("other", [[0.0, 5.0, 10.0], [0.0, 0.2, 0.4]])
def test_nobody_plays_so_slowly(other: list[float]) -> None:
    """Five times as slowly or quickly it is not the same."""
    assert found_time(starts([0.0, 1.0, 2.0], other)) is None


def test_starts_too_near_together_tell_no_tempo() -> None:
    """Four notes within half a second."""
    assert found_time(starts([0.0, 0.1, 0.2, 0.3], [0.0, 0.1, 0.2, 0.3])) is None


def test_told_beats_lie_on_each_other() -> None:
    """A beat at 0.6 s every 0.8 s, and one at 2.0 s every second."""
    time = told_time(Beat(0.6, 0.8), Beat(2.0, 1.0))
    assert time.told
    assert [time.at(0.6 + 0.8 * beat) for beat in range(3)] == pytest.approx([2.0, 3.0, 4.0])
