"""Notes of two playings matched by degree and order, at any tempo, in any octave, with notes left out or added."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.quantise.third import ThirdZone
from bridge.study.alignment import aligned, degree_of, is_third
from bridge.study.marks import NoteMarks

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)
JUST = ThirdZone(386.0, 300.0, 350.0, 315.0, 365.0)
NOTE = NoteMarks(0.0, 1.0, 0.0, 0.0, 0.0, None, 0.0, 0.0, 1.0, None, 1.0, False, -20.0)


def note(cents: float, begin: float | None = None) -> NoteMarks:
    """A note held at ``cents`` above the root, begun at ``begin``."""
    return replace(NOTE, settle_cents=cents, begin_cents=cents if begin is None else begin)


ROOT, FOURTH, FIFTH, SEVENTH = (note(cents) for cents in (0.0, 500.0, 700.0, 1000.0))
THIRD, LOW, BLUE = note(400.0), note(400.0, 310.0), note(345.0)


def pairs(teacher: list[NoteMarks], student: list[NoteMarks]) -> list[tuple[int | None, int | None]]:
    """How they are matched on harps that are tuned alike."""
    return aligned(teacher, student, ZONE, ZONE)


def test_the_same_notes_are_matched_one_by_one() -> None:
    """However the thirds are bent."""
    assert pairs([ROOT, THIRD, FOURTH, LOW], [ROOT, BLUE, FOURTH, THIRD]) == [(0, 0), (1, 1), (2, 2), (3, 3)]


def test_a_note_left_out_and_a_note_added_stand_alone() -> None:
    """The others keep their partners."""
    assert pairs([ROOT, THIRD, FIFTH, ROOT], [ROOT, FIFTH, ROOT]) == [(0, 0), (1, None), (2, 1), (3, 2)]
    assert pairs([ROOT, THIRD], [ROOT, SEVENTH, THIRD]) == [(0, 0), (None, 1), (1, 2)]


def test_of_two_thirds_the_one_that_goes_alike_is_matched() -> None:
    """The teacher plays one straight and one released; the student only the released one."""
    assert pairs([THIRD, LOW], [LOW]) == [(0, None), (1, 0)]
    assert pairs([LOW, THIRD], [LOW]) == [(0, 0), (1, None)]


def test_nothing_has_no_partner() -> None:
    """Either may be empty."""
    assert pairs([], []) == []
    assert pairs([THIRD], []) == [(0, None)]
    assert pairs([], [THIRD, ROOT]) == [(None, 0), (None, 1)]


def test_a_third_bent_far_too_deep_is_still_the_third() -> None:
    """At 220 cents it is nearer to the second, but between two roots nothing else is meant."""
    assert pairs([ROOT, THIRD, ROOT], [ROOT, note(220.0), ROOT]) == [(0, 0), (1, 1), (2, 2)]


def test_a_just_third_is_a_third() -> None:
    """Each zone is that of its own harp: 386 cents there, 400 here."""
    assert aligned([ROOT, THIRD], [ROOT, note(386.0)], ZONE, JUST) == [(0, 0), (1, 1)]


@pytest.mark.parametrize(
    ("marks", "degree"),
    [(ROOT, "1"), (note(-30.0), "1"), (note(1140.0), "7"), (THIRD, "3"), (BLUE, "3"), (note(300.0), "3"), (FIFTH, "5")],
)
def test_a_degree_is_the_nearest_semitone_and_every_third_is_the_third(marks: NoteMarks, degree: str) -> None:
    """Spelled as in the scales."""
    assert degree_of(marks, ZONE) == degree
    assert is_third(marks, ZONE) == (degree == "3")


NOTES = st.lists(st.builds(note, st.floats(-50.0, 1150.0), st.floats(-50.0, 1150.0)), max_size=9)


@given(teacher=NOTES, student=NOTES)
def test_every_note_is_in_one_pair_and_in_its_order(teacher: list[NoteMarks], student: list[NoteMarks]) -> None:
    """Whatever is played."""
    found = pairs(teacher, student)
    assert [one for one, _ in found if one is not None] == list(range(len(teacher)))
    assert [other for _, other in found if other is not None] == list(range(len(student)))
    assert (None, None) not in found
