"""The zero of a recording from its roots."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.harp import make_harp
from bridge.study.held import Held
from bridge.study.zero import find_zero

#: A C harp in cross position: the root is draw 2, blow 3 and blow 6 (OEIS A291810).
HARP = make_harp("C", "cross", 440.0)
G4, G5, A5, B4, C5, D5 = (440.0 * 2.0 ** ((midi - 69) / 12.0) for midi in (67, 79, 81, 71, 72, 74))  # MIDI 1.0, 4.2.1


def sharp(hz: float, cents: float, start_s: float = 0.0, spread_cents: float = 2.0) -> Held:
    """A note of half a second so many cents too high."""
    return Held(hz * 2.0 ** (cents / 1200.0), 0.5, spread_cents, start_s)


def cents_of(a4_hz: float) -> float:
    """How far A4 lies above 440 Hz."""
    return 1200.0 * math.log2(a4_hz / 440.0)


def test_the_roots_tell_the_zero_and_not_the_third() -> None:
    """Of roots 20 cents sharp and thirds and fifths that are not, the roots count alone."""
    zero = find_zero([sharp(G4, 20.0), sharp(B4, -14.0), sharp(D5, 2.0), sharp(G5, 22.0)], HARP)
    assert zero is not None
    assert cents_of(zero.a4_hz) == pytest.approx(21.0, abs=0.1)
    assert zero.notes == 2


def test_without_roots_every_straight_note_counts() -> None:
    """Where no root was held, the other straight reeds tell the zero, but never a third."""
    zero = find_zero([sharp(C5, 8.0), sharp(B4, -30.0), sharp(D5, 12.0)], HARP)
    assert zero is not None
    assert cents_of(zero.a4_hz) == pytest.approx(10.0, abs=0.1)
    assert (zero.notes, zero.roots) == (2, False)
    assert find_zero([sharp(B4, -20.0)] * 5, HARP) is None


def test_what_is_not_held_steady_tells_no_zero() -> None:
    """A root on its way somewhere, 30 cents and more to either side, counts as little as a bent one."""
    assert find_zero([sharp(G4, 10.0, spread_cents=30.0)], HARP) is None


def test_bent_notes_tell_no_zero() -> None:
    """A bend a quarter tone from every reed leaves the zero open."""
    assert find_zero([sharp(B4, -50.0)], HARP) is None
    assert find_zero([], HARP) is None


@given(offs=st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=30))
def test_more_roots_make_the_zero_surer(offs: list[float]) -> None:
    """The zero lies among its roots, and its uncertainty is that of a mean, never nothing."""
    held = [sharp(G4, off) for off in offs]
    zero, twice = find_zero(held, HARP), find_zero(held * 2, HARP)
    assert zero is not None
    assert twice is not None
    assert min(offs) - 0.01 <= cents_of(zero.a4_hz) <= max(offs) + 0.01
    assert zero.spread_cents >= float(np.std(offs)) / math.sqrt(len(offs))
    assert 0.0 < zero.spread_cents <= float(np.std(offs)) + 8.5
    if len(offs) < 3:
        assert twice.spread_cents < zero.spread_cents


def test_over_a_drift_the_mean_is_unsure() -> None:
    """In a minute that drifts from -20 to +20 cents it is off by 10 on the average, and says so."""
    whole = find_zero([sharp(G4, -20.0 + 40.0 * start / 60.0, start) for start in range(0, 61, 3)], HARP)
    assert whole is not None
    assert cents_of(whole.a4_hz) == pytest.approx(0.0, abs=1.0)
    assert 8.0 < whole.spread_cents < 15.0


@pytest.mark.parametrize("off", [-30.0, -25.0, 28.0])
def test_roots_that_the_other_reeds_contradict_are_not_believed(off: float) -> None:
    """Draw 2 always played so far off among other straight notes that are not: the others tell the zero.

    Who is right nobody knows, so it is as uncertain as half of what lies between; it says where the roots lie.
    """
    others = [sharp(hz, cents, start) for start, (hz, cents) in enumerate([(C5, 1.0), (D5, -1.0), (A5, 0.0)] * 2)]
    zero = find_zero([sharp(G4, off, start) for start in (0.5, 1.5, 2.5, 3.5)] + others, HARP)
    assert zero is not None
    assert cents_of(zero.a4_hz) == pytest.approx(0.0, abs=1.0)
    assert zero.roots_off_cents == pytest.approx(off, abs=1.0)
    assert zero.spread_cents == pytest.approx(abs(off) / 2.0, abs=0.5)
    assert (zero.notes, zero.roots) == (6, False)


@pytest.mark.parametrize(
    "others",
    [
        [(C5, 0.0), (D5, 0.0)],
        [(C5, 0.0)] * 6,
        [(B4, 0.0), (B4 * 2.0, 0.0)] * 3,
        [(C5, -18.0), (D5, -11.0), (A5, -14.0)] * 2,
        [(C5, 10.0), (D5, -34.0), (A5, 34.0)],
    ],
    ids=["two", "one reed", "thirds", "as near as reeds differ", "scattered"],
)
def test_what_tells_little_does_not_contradict_the_roots(others: list[tuple[float, float]]) -> None:
    """The roots, 30 cents flat, are believed against few notes, one reed, thirds, and what does not agree itself."""
    held = [sharp(G4, -30.0, start) for start in (0.0, 1.0, 2.0, 3.0)]
    zero = find_zero(held + [sharp(hz, cents, 4.0) for hz, cents in others], HARP)
    assert zero is not None
    assert cents_of(zero.a4_hz) == pytest.approx(-30.0, abs=0.1)
    assert (zero.notes, zero.roots, zero.roots_off_cents) == (4, True, 0.0)
