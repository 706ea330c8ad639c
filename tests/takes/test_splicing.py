"""Cutting and joining: the halves of a cut, joined, are what was cut."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.takes.edited import Breakpoint, EditedNote
from bridge.takes.splicing import cut, is_torn, joined, numbering, on_sample, placed
from takes.made_notes import any_notes, edited

END_S = 10_000.0
NOTE = edited(7, 1.0, 1.0, 71, points=(Breakpoint(0.0, -80.0, 0.4), Breakpoint(0.8, 0.0, 0.8)))


def test_a_note_that_crosses_a_cut_is_cut_there() -> None:
    """From half a second into it on, for a quarter of a second: the curve is the same there, and starts at 0."""
    (piece,) = cut([NOTE], 1.5, 1.75)
    assert (piece.id, piece.start_s, piece.length_s) == (7, 0.0, 0.25)
    assert piece.points == (Breakpoint(0.0, -30.0, 0.65), Breakpoint(0.25, -5.0, 0.775))


def test_what_lies_outside_is_left_out_and_what_lies_inside_moves_along() -> None:
    """A note that ends where the cut begins is not in it."""
    notes = [edited(1, 0.2, 0.8, 67), NOTE, edited(9, 2.0, 0.5, 69)]
    assert cut(notes, 1.0, 2.0) == [edited(7, 0.0, 1.0, 71, points=NOTE.points)]


@pytest.mark.parametrize(
    ("note", "from_s", "to_s", "torn"),
    [
        (NOTE, 1.5, 1.75, False),
        (replace(NOTE, start_s=1.3), 1.5, None, True),
        (replace(NOTE, start_s=1.3), None, 2.1, True),
        # It sounds before the cut, and then lies after it.
        (replace(NOTE, start_s=4.0), 3.0, None, True),
        (replace(NOTE, start_s=4.0), None, 3.0, False),
        (replace(NOTE, start_s=1.3), 0.9, 2.6, False),
        (replace(NOTE, start_s=1.3), None, None, False),
        # What a reed does before its note, and what rings on, are its sound too.
        (replace(NOTE, start_s=1.3), 0.99, None, True),
        (replace(NOTE, start_s=0.5), None, 2.1, True),
        # A shorter one ends sooner; a longer one is drawn out.
        (replace(NOTE, length_s=0.9), 1.5, None, False),
        (replace(NOTE, length_s=1.3), 1.5, None, True),
        (replace(NOTE, id=8, start_s=1.3), 1.5, None, False),
    ],
)
def test_a_cut_may_part_a_note_from_its_sound(
    note: EditedNote, from_s: float | None, to_s: float | None, torn: bool
) -> None:
    """One that was moved or made longer, and is in the cut with only a part of itself or of its sound."""
    assert is_torn([NOTE], [note], from_s, to_s) == torn


def test_played_notes_go_where_they_lie_now() -> None:
    """With their own curve, as long as they are now, in the new order; what was taken out or added is not there."""
    other = edited(3, 2.5, 0.5, 67)
    now = [
        edited(3, 0.1, 0.7, 60),
        replace(NOTE, start_s=1.3, length_s=0.5, points=other.points),
        edited(9, 3.0, 1, 50),
    ]
    assert placed([NOTE, other, edited(4, 4.0, 0.5, 64)], now) == [
        edited(3, 0.1, 0.7, 67),
        replace(NOTE, start_s=1.3, length_s=0.5, points=(Breakpoint(0.0, -80.0, 0.4), Breakpoint(0.5, -30.0, 0.65))),
    ]


def test_two_takes_with_the_same_numbers_are_numbered_anew() -> None:
    """Each from its own place on, and those that were played alike, so that one number is one note in both."""
    one, other = [edited(1, 0.5, 0.2, 71)], [edited(1, 0.1, 0.2, 67)]
    more_ids = numbering([(one, [*one, edited(4, 1.0, 0.2, 60)]), (other, other)], [0.0, 2.0])
    assert more_ids == [0, 4]
    notes = joined([one, other], [0.0, 2.0], more_ids)
    assert [(note.id, note.start_s, note.midi_note) for note in notes] == [(1, 0.5, 71), (5, 2.1, 67)]


def test_numbers_stay_where_each_is_one_note() -> None:
    """Also when the second half comes first; not when a number was played in one take and added in the other."""
    early, late = [edited(1, 0.5, 0.2, 71)], [edited(2, 0.1, 0.2, 67)]
    assert numbering([(late, late), (early, early)], [0.0, 2.0]) == [0, 0]
    assert numbering([(late, []), (early, late)], [0.0, 2.0]) == [0, 2]


def test_notes_that_only_meet_stay_two() -> None:
    """A third tongued again at the seam, with another bend, is another note."""
    again = edited(7, 0.0, 0.4, 71, points=(Breakpoint(0.0, -40.0, 0.5),))
    assert len(joined([[NOTE], [again]], [0.0, 2.0], [0, 0])) == 2
    assert numbering([([NOTE], [NOTE]), ([again], [again])], [0.0, 2.0]) == [0, 7]


@given(any_notes(), st.integers(0, 1_000_000))
def test_the_halves_of_a_cut_joined_are_the_take(notes: list[EditedNote], at: int) -> None:
    """Wherever it is cut, also inside a note: every number, time and corner is what it was."""
    at_s = on_sample(at / 1e5, 48_000)
    corners = {round(note.start_s + point.at_s, 5) for note in notes for point in note.points}
    # Cut on a corner that lies on a straight line, nobody can know that it was there before.
    assume(at_s not in corners)
    halves = [cut(notes, 0.0, at_s), cut(notes, at_s, END_S)]
    assert numbering([(half, half) for half in halves], [0.0, at_s]) == [0, 0]
    assert joined(halves, [0.0, at_s], [0, 0]) == notes


@given(any_notes(), st.floats(0.0, 5.0), st.floats(0.0, 5.0))
def test_a_cut_holds_what_sounded_there(notes: list[EditedNote], from_s: float, length_s: float) -> None:
    """Nothing before its beginning, beyond its end or over another note; bends and breath are those of the moment."""
    from_s, to_s = round(from_s, 5), round(from_s + length_s, 5)
    kept = cut(notes, from_s, to_s)
    whole = {note.id: note for note in notes}
    for piece in kept:
        assert piece.start_s >= 0.0
        assert piece.end_s <= to_s - from_s + 1e-5
        note = whole[piece.id]
        for part in (0.0, 0.4, 1.0):
            at_s = part * piece.length_s
            there = note.at(at_s + piece.start_s + from_s - note.start_s)
            assert piece.at(at_s).bend_cents == pytest.approx(there.bend_cents, abs=0.01, rel=1e-3)
    assert all(after.start_s >= before.end_s - 1e-9 for before, after in pairwise(kept))


@given(any_notes())
def test_the_whole_of_a_take_is_the_take(notes: list[EditedNote]) -> None:
    """Cut from its beginning to its end."""
    assert cut(notes, 0.0, END_S) == notes


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_a_time_on_a_sample_stays_on_it(rate: int) -> None:
    """Told in hundred-thousandths of a second it is still the nearest to that sample."""
    for sample in (1, 2, 12_345, 7_654_321):
        assert on_sample(on_sample(sample / rate, rate), rate) == on_sample(sample / rate, rate)
        assert round(on_sample(sample / rate, rate) * rate) == sample
