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
G4, G5, B4, C5, D5 = (440.0 * 2.0 ** ((midi - 69) / 12.0) for midi in (67, 79, 71, 72, 74))  # MIDI 1.0, 4.2.1


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


def test_a_drift_is_followed() -> None:
    """In a minute that drifts from -20 to +20 cents each instant has its own zero, and the mean is unsure of it."""
    held = [sharp(G4, -20.0 + 40.0 * start / 60.0, start) for start in range(0, 61, 3)]
    whole = find_zero(held, HARP)
    assert whole is not None
    assert cents_of(whole.a4_hz) == pytest.approx(0.0, abs=1.0)
    assert 8.0 < whole.spread_cents < 15.0
    for at_s in (0.0, 15.0, 30.0, 60.0):
        zero = find_zero(held, HARP, at_s)
        assert zero is not None
        assert cents_of(zero.a4_hz) == pytest.approx(-20.0 + 40.0 * at_s / 60.0, abs=3.0)
        assert zero.spread_cents < 8.0


def test_far_from_every_root_the_zero_is_uncertain() -> None:
    """A minute after the last root next to nothing is known."""
    held = [sharp(G4, 5.0, start) for start in (0.0, 1.0, 2.0)]
    near, far = find_zero(held, HARP, 1.0), find_zero(held, HARP, 90.0)
    assert near is not None
    assert far is not None
    assert near.spread_cents < 6.0
    assert far.spread_cents > 30.0
