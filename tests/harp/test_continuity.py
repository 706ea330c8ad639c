"""Readings of one pitch that several reeds give: what the last note says of them, and that they stay marked."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.bends import Air
from bridge.harp.harp import Harp, make_harp
from bridge.harp.layout import Layout
from bridge.harp.reeds import ReedReading, likely_reed
from bridge.harp.temperaments import TEMPERAMENTS, Temperament

HARP = make_harp("C", "cross", 440.0)
# Solo tuning: holes 4 and 5 are both blown C (common practice, no source).
SOLO = make_harp(
    "C", 1, 440.0, Layout("solo", (0, 4, 7, 12, 12, 16, 19, 24, 24, 28), (2, 5, 9, 11, 14, 17, 21, 23, 26, 29))
)


def straight(harp: Harp, hole: int, air: Air) -> ReedReading:
    """The reading of a reed played straight, as it is without a note before it."""
    (hz,) = [reed.hz for reed in harp.reeds if (reed.hole, reed.air) == (hole, air)]
    return ReedReading(hole, air, 0.0, "straight", likely_reed(harp, hz).rival)


@pytest.mark.parametrize(
    ("hole", "air", "expected"),
    [
        (3, "draw", (2, "draw")),
        (1, "draw", (2, "draw")),
        (2, "draw", (2, "draw")),
        (4, "draw", (2, "draw")),
        (2, "blow", (3, "blow")),
        (3, "blow", (3, "blow")),
        (4, "blow", (3, "blow")),
        (6, "blow", (3, "blow")),
    ],
)
def test_the_breath_of_the_last_note_decides_between_draw_2_and_blow_3(
    hole: int, air: Air, expected: tuple[int, Air]
) -> None:
    """A phrase goes on in the same breath where it can; the reading stays marked (common practice, no source)."""
    reading = likely_reed(HARP, HARP.root_hz, straight(HARP, hole, air))
    assert (reading.hole, reading.air) == expected
    assert reading.ambiguous


def test_of_two_reeds_in_one_breath_the_nearer_hole_is_taken() -> None:
    """The blown C of solo tuning is hole 4 after blow 3 and hole 5 after blow 6."""
    hz = SOLO.hole1_hz * 2.0
    assert likely_reed(SOLO, hz, straight(SOLO, 3, "blow")).hole == 4
    assert likely_reed(SOLO, hz, straight(SOLO, 6, "blow")).hole == 5
    assert likely_reed(SOLO, hz).ambiguous


def test_a_bend_that_another_reed_gives_straight_is_marked() -> None:
    """Hole 1 drawn bends to the note of blow 2: the straight reed is taken, and the doubt is told."""
    harp = make_harp("C", 1, 440.0, Layout("mine", (0, 3), (6, 10)))
    reading = likely_reed(harp, harp.hole1_hz * 2.0 ** (3 / 12))
    assert (reading.hole, reading.air, reading.kind, reading.ambiguous) == (2, "blow", "straight", True)


def test_of_two_bends_to_one_note_the_one_that_bends_less_is_taken() -> None:
    """Two holes bend to the same note: without a last note the shallower bend, after the other hole the deeper."""
    harp = make_harp("C", 1, 440.0, Layout("mine", (0, 1), (7, 6)))
    hz = harp.hole1_hz * 2.0 ** (4 / 12)
    alone = likely_reed(harp, hz)
    assert (alone.hole, alone.kind, alone.ambiguous) == (2, "bend", True)
    assert alone.bend_cents == pytest.approx(-200.0)
    after = likely_reed(harp, hz, straight(harp, 1, "draw"))
    assert (after.hole, after.kind, after.ambiguous) == (1, "bend", True)
    assert after.bend_cents == pytest.approx(-300.0)


@given(
    hole=st.integers(1, 10),
    air=st.sampled_from(["blow", "draw"]),
    cents=st.floats(-100.0, 3700.0),
    temperament=st.sampled_from(TEMPERAMENTS),
)
def test_the_last_note_changes_nothing_that_is_sure(
    hole: int, air: Air, cents: float, temperament: Temperament
) -> None:
    """Whatever came before, a reading that is not ambiguous is the same, and one that is stays so."""
    harp = make_harp("C", 2, 440.0, temperament=temperament)
    hz = harp.hole1_hz * 2.0 ** (cents / 1200.0)
    alone, after = likely_reed(harp, hz), likely_reed(harp, hz, straight(harp, hole, air))
    assert after.ambiguous is alone.ambiguous
    assert alone.ambiguous or after == alone


@pytest.mark.parametrize("temperament", TEMPERAMENTS)
def test_reeds_out_of_tune_with_each_other_are_still_the_same_note(temperament: Temperament) -> None:
    """Draw 2 measured 9 cents over blow 3: a pitch on blow 3's own is not taken for a proof of it."""
    harp = make_harp("C", 2, 440.0, temperament=temperament, measured={(2, "draw"): 6.0, (3, "blow"): -3.0})
    reading = likely_reed(harp, harp.hole1_hz * 2.0 ** (697.0 / 1200.0))
    assert (reading.hole, reading.air, reading.ambiguous) == (2, "draw", True)
    assert reading.bend_cents == pytest.approx(-9.0)


@given(hole=st.integers(1, 10), air=st.sampled_from(["blow", "draw"]), cents=st.floats(-100.0, 3700.0))
def test_the_rival_is_the_other_reed_of_the_same_note(hole: int, air: Air, cents: float) -> None:
    """Draw 2 and blow 3 alone are of one note: the one not taken is the rival, and has none itself."""
    reading = likely_reed(HARP, HARP.hole1_hz * 2.0 ** (cents / 1200.0), straight(HARP, hole, air))
    shared = {(2, "draw"), (3, "blow")}
    if reading.rival is None:
        assert reading.kind != "straight" or (reading.hole, reading.air) not in shared
    else:
        assert {(reading.hole, reading.air), (reading.rival.hole, reading.rival.air)} == shared
        assert reading.rival.rival is None
        assert reading.rival.bend_cents == pytest.approx(reading.bend_cents)


@pytest.mark.parametrize(("lowest", "ambiguous"), [(0.0, True), (-70.0, True), (-110.0, False), (-200.0, False)])
def test_a_note_that_was_bent_on_its_way_is_the_reed_that_bends(lowest: float, ambiguous: bool) -> None:
    """Draw 2 bends down to F, blow 3 does not, whatever the last breath was; a reed that only speaks low is neither."""
    lowest_hz = HARP.root_hz * 2.0 ** (lowest / 1200.0)
    reading = likely_reed(HARP, HARP.root_hz, straight(HARP, 4, "blow"), lowest_hz)
    assert reading.ambiguous is ambiguous
    assert (reading.hole, reading.air) == ((3, "blow") if ambiguous else (2, "draw"))
    assert reading.kind == "straight"


def test_a_note_lower_than_any_reed_goes_is_read_by_its_pitch() -> None:
    """A slip an octave down says nothing of the hole."""
    reading = likely_reed(HARP, HARP.root_hz, None, HARP.root_hz / 2.0)
    assert (reading.hole, reading.air, reading.ambiguous) == (2, "draw", True)


def test_a_bend_that_went_lower_is_no_straight_reed() -> None:
    """Blow 2 gives the note that hole 1 drawn bends to; it went lower than blow 2 can, so it was hole 1."""
    harp = make_harp("C", 1, 440.0, Layout("mine", (0, 3), (6, 10)))
    hz = harp.hole1_hz * 2.0 ** (3 / 12)
    reading = likely_reed(harp, hz, None, hz * 2.0 ** (-150 / 1200))
    assert (reading.hole, reading.air, reading.kind, reading.ambiguous) == (1, "draw", "bend", False)
