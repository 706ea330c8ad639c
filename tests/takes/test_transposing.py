"""Notes taken over to another harp, and where a degree is straight on a harp."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.harp.bends import Air
from bridge.harp.harp import Harp, make_harp
from bridge.harp.keys import KEYS
from bridge.harp.temperaments import Temperament
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.holes import without_reed
from bridge.takes.retelling import HarpSince, told_again
from bridge.takes.transposing import counted_from, straight_bend, transposed
from takes.made_notes import any_notes, edited

C_CROSS = make_harp("C", 2, 440.0)
harps = st.builds(
    make_harp,
    st.sampled_from([key.name for key in KEYS]),
    st.integers(1, 12),
    st.floats(430.0, 450.0),
    temperament=st.sampled_from(["equal", "just-5-limit"]),
)


def with_reed(note: EditedNote, harp: Harp) -> EditedNote:
    """The note with the hole it has on this harp."""
    return told_again([note], {note.id}, [], [HarpSince(0.0, harp)])[0]


def test_a_third_of_one_harp_is_the_third_of_the_other_in_the_same_hole() -> None:
    """Draw 3 of a C harp is B4, of an A harp G#4 (layout OEIS A291810, moved down by three semitones)."""
    third = with_reed(edited(1, 0.0, 1.0, 71), C_CROSS)
    assert (third.hole, third.air, third.reed) == (3, "draw", "straight")
    other = make_harp("A", 2, 440.0)
    (moved,) = transposed([third], [C_CROSS], other)
    assert moved.midi_note == 68
    again = with_reed(moved, other)
    assert (again.hole, again.air, again.reed) == (3, "draw", "straight")


def test_in_another_position_the_same_degree_has_another_hole() -> None:
    """The root of first position on a C harp is hole 1 or 4 blown, the third hole 2 or 5 blown (OEIS A291810)."""
    first = make_harp("C", 1, 440.0)
    (moved,) = transposed([edited(1, 0.0, 1.0, 71)], [C_CROSS], first)
    told = with_reed(moved, first)
    assert (told.midi_note, told.hole, told.air) == (64, 2, "blow")


def test_what_cannot_be_played_is_told() -> None:
    """F#4 is draw 2 bent (OEIS A291810 and common practice); Bb3 lies below hole 1 blow, C4, the lowest note."""
    bent, too_low = with_reed(edited(1, 0.0, 0.5, 66), C_CROSS), with_reed(edited(2, 1.0, 0.5, 58), C_CROSS)
    assert (bent.hole, bent.air, bent.reed) == (2, "draw", "bend")
    assert too_low == without_reed(too_low)


def test_the_straight_third_is_the_players_own_in_the_octave_of_the_note() -> None:
    """386 cents above the root: 14 below the third's note, also an octave up, and 114 above a minor third's."""
    third = edited(1, 0.0, 0.5, 71)
    assert straight_bend(third, C_CROSS, 386.0, -40.0) == pytest.approx(-14.0)
    assert straight_bend(replace(third, midi_note=83), C_CROSS, 386.0, -40.0) == pytest.approx(-14.0)
    assert straight_bend(replace(third, midi_note=70, degree="b3"), C_CROSS, 386.0, 20.0) == pytest.approx(86.0)
    just = make_harp("C", 2, 440.0, temperament="just-5-limit")
    # O. Hansson, table 8B: draw 4, the fifth, +4 - 2 against draw 2 ... the root.
    fifth = edited(1, 0.0, 0.5, 74, degree="5")
    assert straight_bend(fifth, just, 386.0, 0.0) == pytest.approx(2.0, abs=0.1)


def test_no_note_outside_midi() -> None:
    """Refused with the note and what is allowed."""
    with pytest.raises(UserError, match=r"Note 1 .* 0 to 127"):
        transposed([edited(1, 0.0, 1.0, 3)], [make_harp("high-G", 2, 440.0)], make_harp("low-C", 2, 440.0))


@given(any_notes(), harps, harps)
def test_there_and_back_is_where_it_was(notes: list[EditedNote], one: Harp, other: Harp) -> None:
    """Notes, bends and all else, not one digit another; all of a curve moves alike, on an equal harp by nothing."""
    there = transposed(notes, [one] * len(notes), other)
    for before, after in zip(notes, there, strict=True):
        assert after.midi_note - other.root_midi == before.midi_note - one.root_midi
        moves = {
            round(then.bend_cents - now.bend_cents, 2) for now, then in zip(before.points, after.points, strict=True)
        }
        assert len(moves) == 1
        assert one.temperament != other.temperament or one.temperament != "equal" or moves == {0.0}
    assert transposed(there, [other] * len(notes), one) == notes


def held(note_id: int, midi_note: int, degree: str, bend_cents: float) -> EditedNote:
    """A note that is held at one bend."""
    points = (Breakpoint(0.0, bend_cents, 0.5),)
    return edited(note_id, float(note_id), 0.5, midi_note, degree=degree, points=points)


def bends_on(other: Harp, notes: list[EditedNote], harp: Harp, *, own_third: bool = False) -> list[float]:
    """The bends of held notes on the other harp."""
    moved = transposed(notes, [harp] * len(notes), other, own_third=own_third)
    return [note.points[0].bend_cents for note in moved]


#: Root, third, third a sixth of a tone below it, fifth, seventh: the last is draw 5, which is where the limits differ.
EQUAL = [held(1, 67, "1", 0.0), held(2, 71, "3", 0.0), held(3, 71, "3", -33.0), held(4, 74, "5", 0.0)]
SEVENTH = held(5, 77, "b7", 0.0)


@pytest.mark.parametrize(
    ("temperament", "third", "fifth", "seventh"),
    [("equal", 0, 0, 0), ("just-5-limit", -14, 2, 18), ("just-7-limit", -14, 2, -31), ("just-19-limit", -14, 2, -1)],
)
def test_what_was_straight_is_straight_on_the_other_harp(
    temperament: Temperament, third: float, fifth: float, seventh: float
) -> None:
    """O. Hansson, table 8B, in whole cents: draw 3 -12, draw 4 +4, draw 5 by the limit, less draw 2, the root, +2.

    What was bent is bent as far from there, in any key; and what comes back from there is where it was.
    """
    for key in ("C", "A", "low-F"):
        other = make_harp(key, 2, 443.0, temperament=temperament)
        there = transposed([*EQUAL, SEVENTH], [C_CROSS] * 5, other)
        wanted = [0.0, third, third - 33.0, fifth, seventh]
        # Two numbers that were rounded to whole cents.
        assert [note.points[0].bend_cents for note in there] == pytest.approx(wanted, abs=1.0)
        assert transposed(there, [other] * 5, C_CROSS) == [*EQUAL, SEVENTH]


def test_a_compromise_moves_half_as_far() -> None:
    """Half way from equal to the 7-limit (common practice, no source): -7 on the third."""
    third = bends_on(make_harp("C", 2, 440.0, temperament="compromise"), EQUAL, C_CROSS)[1]
    assert third == pytest.approx(-7.0, abs=0.5)


def test_a_measured_harp_has_each_reed_where_it_was_heard() -> None:
    """Draw 3 is 20 cents low and draw 7, an octave higher, 5 high, against a root that is 3 low; draw 4 is as built."""
    offsets: dict[tuple[int, Air], float] = {(2, "draw"): -3.0, (3, "draw"): -20.0, (7, "draw"): 5.0}
    worn = make_harp("A", 2, 440.0, measured=offsets)
    high = held(6, 83, "3", -33.0)
    assert bends_on(worn, [*EQUAL, high], C_CROSS) == pytest.approx([0.0, -17.0, -50.0, 3.0, -25.0])
    back = bends_on(C_CROSS, transposed([*EQUAL, high], [C_CROSS] * 5, worn), worn)
    assert back == [0.0, 0.0, -33.0, 0.0, -33.0]


def test_of_two_reeds_of_one_note_that_of_the_note_counts() -> None:
    """The root is draw 2 and blow 3; blow 3 lies 7 cents above it on this harp."""
    worn = make_harp("C", 2, 440.0, measured={(2, "draw"): 0.0, (3, "blow"): 7.0})
    blown = replace(EQUAL[0], hole=3, air="blow", reed="straight", reed_bend_cents=0.0)
    assert bends_on(worn, [EQUAL[0], blown], C_CROSS) == [0.0, 7.0]


def test_a_third_that_the_player_has_put_somewhere_stays_there() -> None:
    """``quantise.third.straight`` is a number of cents above any root; other degrees go with their reeds."""
    just = make_harp("C", 2, 440.0, temperament="just-7-limit")
    assert bends_on(just, EQUAL, C_CROSS, own_third=True) == pytest.approx([0.0, 0.0, -33.0, 2.0], abs=0.1)


@given(any_notes(), harps, harps)
def test_what_is_counted_from_another_harp_sounds_the_same(notes: list[EditedNote], one: Harp, other: Harp) -> None:
    """MIDI 1.0's formula over either root, to a hundredth of a cent, which is what tables tell."""
    for note in notes:
        same = counted_from(note, one, other)
        for now, then in zip(note.points, same.points, strict=True):
            hz = [
                harp.root_hz * 2.0 ** ((note.midi_note - harp.root_midi) / 12.0 + bend / 1200.0)
                for harp, bend in ((one, now.bend_cents), (other, then.bend_cents))
            ]
            assert 1200.0 * math.log2(hz[1] / hz[0]) == pytest.approx(0.0, abs=0.011)


def test_a_bent_note_is_told_with_its_bend() -> None:
    """Draw 3 bent by a semitone and a half, scooped into from its straight pitch: still draw 3, 150 cents down."""
    points = (Breakpoint(0.0, 0.0, 0.5), Breakpoint(0.1, -150.0, 0.5), Breakpoint(1.0, -150.0, 0.5))
    told = with_reed(edited(1, 0.0, 1.0, 71, points=points), C_CROSS)
    assert (told.hole, told.air, told.reed) == (3, "draw", "bend")
    assert told.reed_bend_cents == pytest.approx(-150.0)
