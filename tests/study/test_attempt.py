"""Which notes of an attempt are judged: those that may be the third, and the root where it is asked for."""

from __future__ import annotations

import numpy as np
import pytest

from bridge.capture.player import curve_at
from bridge.quantise.third import ThirdZone
from bridge.study.advice import advise
from bridge.study.aims import Missed
from bridge.study.attempt import Attempt, judge
from bridge.study.attempt_words import note_words, off_words, so_far_words
from bridge.study.exercises import exercises
from bridge.study.marks import Beat, NoteMarks, marks_of
from bridge.study.note_frames import NoteFrames
from bridge.study.settings import StudySettings

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)


def note(cents: float, start_s: float = 0.0) -> NoteMarks:
    """A note that is held there for half a second."""
    return NoteMarks(start_s, 0.5, cents, cents, 0.0, None, cents, cents, 1.0, None, 1.0, two_holes=False, level_db=-20)


def attempt(name: str, *cents: float, apart: float = 1.0, before_cents: float | None = None) -> Attempt:
    """Notes so many beats of half a second apart."""
    exercise = next(each for each in exercises(ZONE, 10.0) if each.name == name)
    notes = [note(each, 0.5 * apart * place) for place, each in enumerate(cents)]
    return judge(exercise, notes, StudySettings(), Beat(0.0, 0.5), before_cents)


@pytest.mark.parametrize(
    ("cents", "judged"), [(400.0, True), (230.0, True), (450.0, True), (500.0, False), (0.0, False)]
)
def test_only_what_may_be_the_third_is_judged(cents: float, judged: bool) -> None:
    """Bent far too deep it still is; the fourth and the root are not, and are not kept as progress."""
    found = attempt("straight", cents)
    assert found.heard == judged
    assert (len(found.others) == 0) == judged


def test_other_notes_are_named() -> None:
    """Each by its degree; where there was no third at all, its hole is the one thing to try."""
    found = attempt("straight", 500.0, 700.0, 500.0)
    assert off_words(found) == "Not judged, being other notes: the fourth 2 times, the fifth."
    assert found.advice.sentence == "Find the hole of the third first: other notes were heard, and no third."
    assert "nearer to the microphone" in attempt("straight").advice.sentence


def test_in_turn_the_root_belongs() -> None:
    """And only there."""
    assert attempt("turn", 350.0, 0.0, 350.0, -20.0).others == ()
    assert [other.settle_cents for other in attempt("growing", 400.0, 0.0).others] == [0.0]


def test_the_distance_is_the_one_of_the_advice() -> None:
    """Both tell how far from straight it was, not one of them from where nobody minds."""
    found = attempt("straight", 330.0, 330.0, apart=4.0)
    assert off_words(found) == "70 cents off where it should lie, on average."
    assert found.advice.sentence.endswith("under straight, by 70 cents.")
    assert off_words(attempt("straight", 395.0, 395.0, apart=4.0)) == "All where it should lie."


def test_notes_that_were_left_out_are_no_success() -> None:
    """What was heard is told beside what was not, and nobody is praised for the half of it."""
    found = attempt("straight", 330.0, before_cents=90.0)
    assert off_words(found) == (
        "70 cents off where it should lie, on average; 1 of 2 was not heard. 20 cents nearer than the time before."
    )
    assert not found.advice.success
    assert off_words(attempt("straight", 400.0)) == "What was heard lies where it should; 1 of 2 was not heard."
    assert attempt("straight", 330.0, 330.0, apart=4.0, before_cents=90.0).advice.success


def test_far_behind_is_told_in_beats() -> None:
    """From half a beat on; nearer in milliseconds."""
    exercise = next(each for each in exercises(ZONE, 10.0) if each.name == "straight")
    late = judge(exercise, [note(400.0, 0.4)], StudySettings(), Beat(0.0, 0.5))
    assert late.advice.sentence == "Start sooner: it came 0.8 beats late."
    assert note_words(late, ZONE)[0].endswith("; 0.8 beats late.")
    near = judge(exercise, [note(400.0, 0.2)], StudySettings(), Beat(0.0, 0.5))
    assert near.advice.sentence == "Start sooner: it came 200 ms behind the beat."


def test_one_cent_is_one_cent() -> None:
    """Not 1 cents."""
    blue = next(each for each in exercises(ZONE, 10.0) if each.name == "blue")
    miss = Missed(1.2, 0.0, False, 0.0, 0.0, 1.0, 0.0, False, 0.0)
    assert advise(blue.aims, [miss] * 2, StudySettings()).sentence.endswith("above the blue zone, by 1 cent.")
    assert so_far_words([1.0, 2.0]) == "2 times: 1 cent off the first time, 2 the last; the nearest 1."


def test_a_held_note_is_judged_where_it_was_held_longest() -> None:
    """Held at the minor third and let go of after more than half of it is not straight, though it settles there."""
    time_s = np.arange(0.0, 0.58, 0.0027)
    cents = curve_at(((0.35, 301.0), (0.5, 400.0)), time_s)
    ones = np.ones(len(time_s))
    marks = marks_of(NoteFrames(0.0, 0.58, time_s, cents, -20.0 * ones, ones))
    assert marks is not None
    held = next(each for each in exercises(ZONE, 10.0) if each.name == "straight")
    assert judge(held, [marks, marks], StudySettings()).advice.fault == "flat"
    released = next(each for each in exercises(ZONE, 10.0) if each.name == "release")
    assert judge(released, [marks, marks], StudySettings()).advice.fault is None
