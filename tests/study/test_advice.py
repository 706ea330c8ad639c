"""What is said of an attempt: the five faults of generated students, the order of a teacher, and success."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bridge.quantise.third import ThirdZone
from bridge.study.advice import advise
from bridge.study.aims import Missed, missed, played
from bridge.study.exercises import Exercise, exercises
from bridge.study.mark_words import marks_words
from bridge.study.marks import Beat, marks_of
from bridge.study.note_frames import NoteFrames
from bridge.study.settings import StudySettings
from sounds.students import FAULTY, FIRST_S, TEACHER, TEMPO, Student, played_by
from study.chain_notes import marks_by_chain

#: The defaults of the settings: straight, minor, target, and the blue zone from 315 to 365 cents.
ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)
SETTINGS = StudySettings()
BEAT = Beat(FIRST_S, 60.0 / TEMPO)
#: As a note is that misses nothing.
NONE = Missed(0.0, 0.0, False, 0.0, 0.0, 1.0, 0.0, False, 0.0)


def exercise(name: str) -> Exercise:
    """The exercise of that name."""
    return next(each for each in exercises(ZONE, SETTINGS.near_cents) if each.name == name)


RELEASE, STRAIGHT, BLUE, GROWING = map(exercise, ("release", "straight", "blue", "growing"))


def heard(student: Student, key: str) -> list[Missed | None]:
    """What the chain hears of a student, beside the exercise."""
    chosen = played(RELEASE.aims, marks_by_chain(played_by(student, key), key), BEAT)
    assert None not in chosen
    return [None if note is None else missed(aim, note, BEAT) for aim, note in zip(RELEASE.aims, chosen, strict=True)]


SAID = {
    "shallow": "Begin lower, bent before you breathe: it began a little above the low half of the third, by 28 cents.",
    "deep": "Begin less deep: it began plainly under the low half of the third, by 45 cents.",
    "unreleased": "Let go of the bend while it sounds, over one beat: it stayed 85 cents under straight.",
    "two holes": "Narrow your lips until one hole sounds alone: two were heard in 100 % of it.",
    "late": "Start sooner: it came 162 ms behind the beat.",
}


@pytest.mark.parametrize("fault", SAID)
def test_each_students_fault_is_the_one_that_is_told(fault: str) -> None:
    """Bent too little or too deep, never let go of, two holes, behind the beat: one sentence each, with the amount."""
    advice = advise(RELEASE.aims, heard(FAULTY[fault], "C"), SETTINGS)
    assert advice.fault == fault
    words, said = advice.sentence.split(), SAID[fault].split()
    assert [word for word in words if not word.isdecimal()] == [word for word in said if not word.isdecimal()]
    amounts = [float(word) for word in words if word.isdecimal()]
    assert amounts == pytest.approx([float(word) for word in said if word.isdecimal()], abs=3.0)


@pytest.mark.parametrize("key", ["low-F", "high-G"])
@pytest.mark.parametrize("fault", ["shallow", "two holes"])
def test_a_fault_is_the_same_on_any_harp(key: str, fault: str) -> None:
    """On the lowest and the highest harp."""
    assert advise(RELEASE.aims, heard(FAULTY[fault], key), SETTINGS).fault == fault


def test_a_teacher_is_told_nothing_to_mend() -> None:
    """All was as near as it should be."""
    advice = advise(RELEASE.aims, heard(TEACHER, "C"), SETTINGS)
    assert advice.fault is None
    assert advice.off_cents == 0.0


@pytest.mark.parametrize(
    ("misses", "fault"),
    [
        (replace(NONE, settle_cents=60.0, two_holes=True, unclean=0.8, late_s=0.4), "two holes"),
        (replace(NONE, settle_cents=40.0, late_s=0.15), "sharp"),
        (replace(NONE, settle_cents=-40.0, steady_cents=25.0), "flat"),
        (replace(NONE, settle_cents=-2.0, late_s=0.2), "late"),
        (replace(NONE, late_s=-0.2), "early"),
        (replace(NONE, late_s=0.04), None),
        (replace(NONE, steady_cents=22.0), "unsteady"),
        (replace(NONE, short_part=0.6), "short"),
        (replace(NONE, release_part=1.5), "slow"),
        (replace(NONE, release_part=-0.8), "fast"),
        (NONE, None),
    ],
)
def test_a_teacher_begins_with_the_hole_then_pitch_then_time(misses: Missed, fault: str | None) -> None:
    """Of several faults the one that is said first and is far off wins; what lies within the tolerances is not said."""
    assert advise(STRAIGHT.aims, [misses, misses], SETTINGS).fault == fault


def test_a_bent_place_is_missed_by_bending_too_little_or_too_much() -> None:
    """Above the blue zone the bend was too shallow, below it too deep."""
    above = advise(BLUE.aims, [replace(NONE, settle_cents=20.0)] * 2, SETTINGS)
    assert (above.fault, above.sentence) == (
        "shallow",
        "Bend deeper: it lay a little above the blue zone, by 20 cents.",
    )
    below = advise(BLUE.aims, [replace(NONE, settle_cents=-45.0)] * 2, SETTINGS)
    assert (below.fault, below.sentence) == ("deep", "Bend less: it lay plainly under the blue zone, by 45 cents.")


def test_of_many_notes_the_one_that_is_off_is_named() -> None:
    """One tongued note of eight lies far off its step."""
    misses = [*[NONE] * 5, replace(NONE, settle_cents=50.0), NONE, NONE]
    said = advise(GROWING.aims, misses, SETTINGS).sentence
    assert said == "Bend deeper: the sixth note lay plainly above step 6 of 8, by 60 cents."
    one_unheard = [None, *misses[1:]]
    assert advise(GROWING.aims, one_unheard, SETTINGS).sentence == said
    every = advise(GROWING.aims, [replace(NONE, settle_cents=20.0)] * 8, SETTINGS).sentence
    assert every == "Bend deeper: most lay a little above their places, by 30 cents."


def test_of_two_notes_the_one_that_is_off_is_named() -> None:
    """The amount is its own, not the middle of the two, which neither of them lay off by."""
    said = advise(BLUE.aims, [NONE, replace(NONE, settle_cents=35.0)], SETTINGS).sentence
    assert said == "Bend deeper: the second note lay a little above the blue zone, by 35 cents."


def test_one_third_that_was_not_let_go_of_is_told_beside_one_that_was() -> None:
    """Not all was near: the second stayed in the blue zone. One of eight is told as well, after what is worse."""
    kept = replace(NONE, settle_cents=-40.0, unreleased=True)
    advice = advise(RELEASE.aims, [NONE, kept], SETTINGS)
    say = "Let go of the bend while it sounds, over one beat: the second note stayed 50 cents under straight."
    assert (advice.fault, advice.sentence) == ("unreleased", say)
    eight = [replace(RELEASE.aims[0], at=4.0 * number) for number in range(8)]
    assert advise(eight, [kept, kept, *[NONE] * 6], SETTINGS).sentence == say.replace("the second note", "2 of 8")
    assert advise(eight, [kept, *[replace(NONE, begin_cents=40.0)] * 7], SETTINGS).fault == "shallow"


def test_the_amount_is_that_of_the_marks() -> None:
    """Held 330 cents above the root, a straight third is told to lie 70 cents under straight, as its marks say."""
    cents = STRAIGHT.aims[0].settle.missed(330.0)
    said = advise(STRAIGHT.aims, [replace(NONE, settle_cents=cents)] * 2, SETTINGS).sentence
    assert said == "Relax jaw and tongue and let it come up: it lay plainly under straight, by 70 cents."


@pytest.mark.parametrize(("before", "success"), [(36.0, True), (34.0, False), (10.0, False), (None, False)])
def test_fifteen_cents_nearer_are_a_success(before: float | None, success: bool) -> None:
    """20 cents off now: a success after 36, not after 34."""
    advice = advise(BLUE.aims, [replace(NONE, settle_cents=20.0)] * 2, SETTINGS, before)
    assert advice.success == success
    assert advice.gained_cents == (None if before is None else before - 20.0)


def test_nothing_heard_is_told() -> None:
    """Also half of the notes missing is said, as what was missing of them."""
    assert advise(BLUE.aims, [None, None], SETTINGS).fault == "nothing"
    half = advise(BLUE.aims, [NONE, None], SETTINGS)
    assert (half.fault, half.sentence) == ("short", "Play every one of them: 1 of 2 was not heard.")


def test_one_of_many_that_was_not_heard_is_told_where_all_else_is_well() -> None:
    """Not all of it was as near as it should be; but what is plainly off comes first."""
    few = advise(GROWING.aims, [None, *[NONE] * (len(GROWING.aims) - 1)], SETTINGS)
    assert few.sentence == f"Play every one of them: 1 of {len(GROWING.aims)} was not heard."
    late = replace(NONE, late_s=0.2)
    assert advise(GROWING.aims, [None, *[late] * (len(GROWING.aims) - 1)], SETTINGS).fault == "late"


def test_the_blue_note_is_a_zone_and_no_number() -> None:
    """Anywhere from 315 to 365 cents nothing is missed; one cent outside is."""
    place = BLUE.aims[0].settle
    assert [place.missed(cents) for cents in (314.0, 315.0, 340.0, 365.0, 366.0)] == [-1.0, 0.0, 0.0, 0.0, 1.0]


def test_the_growing_bend_goes_evenly_from_straight_to_minor() -> None:
    """Eight steps, the first around straight, the last around the minor."""
    middles = [0.5 * (aim.settle.low + aim.settle.high) for aim in GROWING.aims]
    assert middles == pytest.approx([400.0 - 100.0 * step / 7.0 for step in range(8)])
    assert [aim.at for aim in GROWING.aims] == list(range(8))


def test_a_third_is_found_in_its_place_on_the_beat() -> None:
    """A note between two places goes to neither, the longer of two to the place in which both sound."""
    marks = marks_by_chain(played_by(TEACHER), "C")
    first, second = marks
    away = replace(first, start_s=BEAT.at(3.05), length_s=0.5)
    short = replace(first, start_s=BEAT.at(4.1), length_s=0.2)
    assert played(RELEASE.aims, [first, away, short, second], BEAT) == [first, second]
    assert played(RELEASE.aims, [first], BEAT) == [first, None]
    assert played(RELEASE.aims, [second], None) == [second, None]


def test_a_root_bent_down_is_low_and_not_an_octave_high() -> None:
    """The second hole drawn is easily bent: 60 cents under the root, told in the octave beneath, are 60 cents."""
    turn = exercise("turn")
    time_s = np.arange(0.0, 0.6, 0.004)
    frames = NoteFrames(1.0, 1.6, 1.0 + time_s, *(np.full(len(time_s), value) for value in (-60.0, -20.0, 1.0)))
    marks = marks_of(frames)
    assert marks is not None
    assert missed(turn.aims[1], marks).settle_cents == pytest.approx(SETTINGS.near_cents - 60.0)
    assert marks_words(marks, ZONE).startswith("began 60 cents under the root")
    advice = advise(turn.aims[1:2], [missed(turn.aims[1], marks)], SETTINGS)
    assert advice.fault == "flat"
    assert advice.off_cents == pytest.approx(60.0)
