"""Ids of added notes."""

from __future__ import annotations

from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.takes.free_ids import free_ids

MOST = 10**9


@pytest.mark.parametrize(
    ("used", "free"),
    [
        ((), [1, 2, 3]),
        ((1, 2, 4), [5, 6, 7]),
        ((7,), [8, 9, 10]),
        ((MOST - 1,), [MOST, 1, 2]),
        ((1, 3, MOST), [2, 4, 5]),
    ],
)
def test_they_go_on_after_the_greatest_as_far_as_a_table_goes(used: tuple[int, ...], free: list[int]) -> None:
    """And from there with the lowest that is free."""
    assert list(islice(free_ids(used), 3)) == free


@given(st.sets(st.integers(1, 8) | st.integers(MOST - 8, MOST)))
def test_none_is_used_twice_nor_beyond_the_table(used: set[int]) -> None:
    """However many notes are added."""
    free = list(islice(free_ids(used), 20))
    assert len(set(free)) == len(free)
    assert not used & set(free)
    assert all(1 <= number <= MOST for number in free)
