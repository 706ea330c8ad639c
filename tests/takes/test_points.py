"""Breakpoints held as numbers: whatever is asked of them, they are a tuple of breakpoints, in a fifth of the memory.

Checked against Python's own tuple of the same breakpoints.
"""

from __future__ import annotations

import copy
import gc
import pickle
import tracemalloc
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.takes.edited import Breakpoint, Points
from takes.made_notes import edited

#: Any number but one that is not equal to itself: no table holds that.
NUMBERS = st.floats(allow_nan=False)
BREAKPOINTS = st.builds(Breakpoint, NUMBERS, NUMBERS, NUMBERS)
TUPLES = st.lists(BREAKPOINTS, max_size=8).map(tuple)
PLACES = st.none() | st.integers(-10, 10)


def asked(points: Sequence[Breakpoint], place: int) -> Breakpoint | None:
    """The breakpoint there, None where there is none."""
    try:
        return points[place]
    except IndexError:
        return None


@given(TUPLES)
def test_they_read_as_a_tuple_does(plain: tuple[Breakpoint, ...]) -> None:
    """Length, order, each place from either end, and what is found in them."""
    points = Points(iter(plain))
    assert len(points) == len(plain)
    assert bool(points) == bool(plain)
    assert tuple(points) == plain
    assert tuple(reversed(points)) == plain[::-1]
    places = range(-len(plain) - 2, len(plain) + 2)
    assert [asked(points, place) for place in places] == [asked(plain, place) for place in places]
    assert all(point in points and points.index(point) == plain.index(point) for point in plain)
    assert [points.count(point) for point in plain] == [plain.count(point) for point in plain]


@given(TUPLES, PLACES, PLACES, PLACES.filter(lambda step: step != 0))
def test_a_slice_is_that_of_the_tuple(
    plain: tuple[Breakpoint, ...], first: int | None, last: int | None, step: int | None
) -> None:
    """Of any bounds and steps, and breakpoints held as numbers again."""
    part = Points(plain)[first:last:step]
    assert isinstance(part, Points)
    assert part == plain[first:last:step]


@given(TUPLES, TUPLES)
def test_they_are_equal_as_tuples_are(one: tuple[Breakpoint, ...], other: tuple[Breakpoint, ...]) -> None:
    """Among themselves and with a tuple on either side, and then their hashes are the same."""
    assert (Points(one) == Points(other)) == (one == other)
    assert (Points(one) == other) == (one == other)
    assert (one == Points(other)) == (one == other)
    assert Points(one) == one == Points(one)
    assert hash(Points(one)) == hash(one)
    assert Points(one) != list(one)


@pytest.mark.parametrize("zero", [0.0, -0.0])
def test_a_zero_is_a_zero_of_either_sign(zero: float) -> None:
    """As numbers have it, although their bytes are others."""
    points, plain = Points([Breakpoint(0.0, zero, 0.5)]), (Breakpoint(0.0, 0.0, 0.5),)
    assert points == Points(plain)
    assert hash(points) == hash(plain)


@given(TUPLES)
def test_columns_are_the_numbers(plain: tuple[Breakpoint, ...]) -> None:
    """There and back again, and nobody can write to them."""
    points = Points(plain)
    times, bends, breaths = points.columns
    assert times.tolist() == [point.at_s for point in plain]
    assert bends.tolist() == [point.bend_cents for point in plain]
    assert breaths.tolist() == [point.breath for point in plain]
    assert Points.of_columns(points.columns) == plain
    assert Points.of_columns(np.array(plain and [*zip(*points.columns.tolist(), strict=True)]).T) == plain
    with pytest.raises(ValueError, match="read-only"):
        points.columns[:] = 0.0


@given(TUPLES)
def test_copies_and_pickles_are_the_same(plain: tuple[Breakpoint, ...]) -> None:
    """As of any value."""
    points = Points(plain)
    assert copy.deepcopy(points) == plain
    assert pickle.loads(pickle.dumps(points)) == plain  # noqa: S301 - its own bytes
    assert repr(points) == f"Points({plain!r})"


@given(st.lists(st.integers(0, 100), min_size=1, max_size=8, unique=True).map(sorted), st.integers(-1, 101))
def test_until_counts_those_that_have_come(times: list[int], at_s: int) -> None:
    """Up to a time, which is counted in."""
    points = Points(Breakpoint(float(time), 0.0, 0.5) for time in times)
    assert points.until(float(at_s)) == sum(time <= at_s for time in times)


@given(TUPLES.filter(bool))
def test_a_note_holds_whatever_it_is_given_as_numbers(plain: tuple[Breakpoint, ...]) -> None:
    """A tuple, a list, and what it held already, which is held once for all its versions."""
    note = edited(1, 0.0, 1.0, 71, points=plain)
    assert isinstance(note.points, Points)
    assert note == replace(note, points=list(plain))
    assert replace(note, start_s=1.0).points is note.points
    assert note.columns.tolist() == note.points.columns.tolist()


def test_a_breakpoint_takes_some_thirty_bytes() -> None:
    """24 for its three numbers, and its part of what holds those of one note; an object of its own has 136."""
    notes, corners = 1000, 14
    plain = [[Breakpoint(at / 7, note / 3, 0.5) for at in range(corners)] for note in range(notes)]
    tracemalloc.start()
    held = [Points(points) for points in plain]
    # Python keeps some tuples to use them again.
    gc.collect()
    bytes_held = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    assert len(held) == notes
    assert 24 * notes * corners < bytes_held < 32 * notes * corners
