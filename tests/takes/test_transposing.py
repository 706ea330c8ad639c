"""Notes taken over to another harp, and where a degree is straight on a harp."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.harp.harp import Harp, make_harp
from bridge.harp.keys import KEYS
from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.holes import out_of_reach
from bridge.takes.retelling import HarpSince, told_again
from bridge.takes.transposing import straight_bend, transposed
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
    assert [out_of_reach(note) for note in (bent, too_low, edited(3, 2.0, 0.5, 71))] == [False, True, False]


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
    """Notes, bends and all else, not one digit another; and as far above the one root as above the other."""
    there = transposed(notes, [one] * len(notes), other)
    for before, after in zip(notes, there, strict=True):
        assert after.midi_note - other.root_midi == before.midi_note - one.root_midi
        assert after.points == before.points
    assert transposed(there, [other] * len(notes), one) == notes


def test_a_bent_note_is_told_with_its_bend() -> None:
    """Draw 3 bent by a semitone and a half, scooped into from its straight pitch: still draw 3, 150 cents down."""
    points = (Breakpoint(0.0, 0.0, 0.5), Breakpoint(0.1, -150.0, 0.5), Breakpoint(1.0, -150.0, 0.5))
    told = with_reed(edited(1, 0.0, 1.0, 71, points=points), C_CROSS)
    assert (told.hole, told.air, told.reed) == (3, "draw", "bend")
    assert told.reed_bend_cents == pytest.approx(-150.0)
