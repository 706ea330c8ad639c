"""Slots and scales: where each degree sits, what belongs to it, and what a wrong scale is told."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.quantise.scales import DEGREES, find_scale, read_scale
from bridge.quantise.slots import Place

BUILT_IN = ("blues", "major", "mixolydian", "minor-pentatonic", "chromatic")

# Semitones above the tonic; common practice, no source.
SEMITONES = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "minor-pentatonic": (0, 3, 5, 7, 10),
    "chromatic": tuple(range(12)),
    "blues": (0, 1, 2, 4, 5, 6, 7, 8, 9, 10, 11),
}


@pytest.mark.parametrize("name", BUILT_IN)
def test_anchors_sit_on_the_semitones_of_the_scale(name: str) -> None:
    """Each degree's anchor is its semitone above the root."""
    assert tuple(slot.anchor for slot in find_scale(name, {}).slots) == tuple(100.0 * at for at in SEMITONES[name])


@pytest.mark.parametrize("name", BUILT_IN)
def test_slots_share_the_octave_out(name: str) -> None:
    """Each slot begins where the one below ends, an octave in all, and holds its own anchor."""
    slots = find_scale(name, {}).slots
    for below, above in pairwise(slots):
        assert below.high == above.low
    assert slots[-1].high - slots[0].low == pytest.approx(1200.0)
    assert all(slot.stay_low <= slot.low <= slot.anchor < slot.high <= slot.stay_high for slot in slots)


def test_the_third_of_the_blues_is_one_wide_slot() -> None:
    """It reaches from below the minor third to above the major, wider to stay than to enter; 2 and 4 give way."""
    by_degree = {slot.degree: slot for slot in find_scale("blues", {}).slots}
    third = by_degree["3"]
    assert (third.low, third.high, third.stay_low, third.stay_high) == (265.0, 430.0, 225.0, 440.0)
    assert (by_degree["2"].low, by_degree["2"].high) == (150.0, 265.0)
    assert (by_degree["4"].low, by_degree["4"].high) == (430.0, 550.0)
    assert (by_degree["2"].stay_high, by_degree["4"].stay_low) == (265.0, 430.0)
    assert (by_degree["5"].low, by_degree["5"].high) == (650.0, 750.0)
    assert "b3" not in by_degree


# Cents are 1200 * log2(ratio) above the tonic.
@pytest.mark.parametrize(
    ("ratio", "degree"),
    [
        (7 / 6, "3"),
        (19 / 16, "3"),
        (6 / 5, "3"),
        (39 / 32, "3"),
        (11 / 9, "3"),
        (27 / 22, "3"),
        (16 / 13, "3"),
        (5 / 4, "3"),
        (1.0, "1"),
        (9 / 8, "2"),
        (4 / 3, "4"),
        (3 / 2, "5"),
        (7 / 4, "b7"),
        (15 / 8, "7"),
    ],
)
@pytest.mark.parametrize("octave", [-2, 0, 1])
def test_just_intervals_fall_on_their_degree(ratio: float, degree: str, octave: int) -> None:
    """Every just third from 7/6 to 5/4 is the third of the blues, and the other intervals are their own degrees."""
    place = find_scale("blues", {}).place(1200.0 * (math.log2(ratio) + octave))
    assert (place.slot.degree, place.octave) == (degree, octave)


@given(name=st.sampled_from(BUILT_IN), cents=st.floats(-12000.0, 12000.0))
def test_every_pitch_has_one_slot(name: str, cents: float) -> None:
    """The slot found holds the pitch and would keep it; the nearest anchor is never further than the slot's own."""
    scale = find_scale(name, {})
    place = scale.place(cents)
    within = cents - 1200.0 * place.octave
    assert place.slot.low - 1e-6 <= within <= place.slot.high + 1e-6
    assert place.keeps(cents, margin=1e-6)
    assert abs(cents - scale.nearest(cents).anchor) <= abs(cents - place.anchor) + 1e-6


def test_a_slot_is_harder_to_leave_than_to_enter() -> None:
    """The third is kept from 225 to 440 and entered from 265 to 430, in any octave."""
    scale = find_scale("blues", {})
    third = scale.place(1200.0 + 350.0)
    assert third == Place(third.slot, 1)
    assert third.keeps(1425.0)
    assert third.keeps(1640.0)
    assert not third.keeps(1424.0)
    assert not third.keeps(1641.0)
    assert scale.place(240.0).slot.degree == "2"
    assert scale.place(435.0).slot.degree == "4"


def test_a_user_scale_can_be_a_line_a_list_or_say_its_reaches() -> None:
    """The three ways to write one scale agree, and a reach moves only its own borders."""
    line = read_scale("mine", "1 b3 4 5 b7")
    assert read_scale("mine", [1, "b3", 4, 5, "b7"]).slots == line.slots
    reached = find_scale("mine", {"mine": [1, {"degree": "b3", "reach": [200, 420], "stay": [180, 430]}, 4, 5, "b7"]})
    assert [slot.low for slot in reached.slots] == [-100.0, 200.0, 420.0, 600.0, 850.0]
    assert (reached.slots[1].stay_low, reached.slots[1].stay_high) == (180.0, 430.0)


def test_a_scale_of_one_degree_holds_the_whole_octave() -> None:
    """A single slot reaches half an octave to both sides."""
    (slot,) = read_scale("drone", ["5"]).slots
    assert (slot.low, slot.high) == (100.0, 1300.0)


@given(degrees=st.lists(st.sampled_from(DEGREES), min_size=1, unique=True))
def test_any_set_of_degrees_makes_a_scale(degrees: list[str]) -> None:
    """Degrees in any order make a scale whose anchors all hold themselves."""
    scale = read_scale("mine", degrees)
    for slot in scale.slots:
        assert scale.place(slot.anchor).slot is slot
    assert {slot.degree for slot in scale.slots} == set(degrees)


@pytest.mark.parametrize(
    ("plain", "told"),
    [
        (None, "give a list of degrees"),
        ([], "give a list of degrees"),
        ({"1": {}}, "give a list of degrees"),
        ("1 #4 5", "found '#4'"),
        ([1, 8], "found 8"),
        ([1, {"reach": [1, 2]}], "names its degree"),
        ([1, 5, "5"], "degree 5 is there twice"),
        ([1, {"degree": "3", "range": [1, 2]}], "'range' is not known"),
        ([1, {"degree": "3", "reach": 50}], "reach must be [low, high]"),
        ([1, {"degree": "3", "reach": ["low", "high"]}], "reach must be [low, high]"),
        ([1, {"degree": "3", "reach": [410, 450]}], "with 400 between them"),
        ([1, {"degree": "3", "reach": [float("nan"), 450]}], "with 400 between them"),
        ([1, {"degree": "3", "reach": [300, 450], "stay": [320, 460]}], "stay must hold all of reach"),
        (["2", {"degree": "3", "reach": [150, 450]}, 5], "swallows the anchor of 2"),
        (["2", {"degree": "3", "reach": [250, 750]}, 5], "swallows the anchor of 5"),
        ([{"degree": "3", "reach": [300, 480]}, {"degree": "4", "reach": [450, 550]}], "overlap by 30 cents"),
    ],
)
def test_a_wrong_scale_is_told_what_is_wrong(plain: object, told: str) -> None:
    """Each mistake names the scale, the place and what to do."""
    with pytest.raises(UserError) as caught:
        read_scale("mine", plain)
    assert "'mine'" in str(caught.value)
    assert told in str(caught.value)


def test_an_unknown_scale_is_told_which_there_are() -> None:
    """The answer lists the scales of the program and the user's own."""
    with pytest.raises(UserError, match=r"blues, major, mixolydian, minor-pentatonic, chromatic, mine"):
        find_scale("dorian", {"mine": "1 5"})


def test_a_user_scale_cannot_take_the_name_of_another() -> None:
    """A scale that comes with the program cannot be replaced unnoticed."""
    with pytest.raises(UserError, match="another name"):
        find_scale("major", {"major": "1 5"})
