"""A student beside a teacher, both as the chain hears them: the five faults, differences, other keys and tempos."""

from __future__ import annotations

from functools import cache

import pytest

from bridge.quantise.third import ThirdZone
from bridge.study.alignment import MarkedNote
from bridge.study.common_time import CommonTime, told_time
from bridge.study.comparison import Comparison, compare
from bridge.study.comparison_words import Row, alone_words, others_words, rows, tempo_words
from bridge.study.marks import Beat, marks_of
from bridge.study.settings import StudySettings
from sounds.known import KnownSound
from sounds.students import FAULTY, FIRST_S, LATE_S, TEACHER, TEMPO, Student, phrase_by, played_by
from study.chain_notes import notes_by_chain

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)
SETTINGS = StudySettings()
BEAT = Beat(FIRST_S, 60.0 / TEMPO)
TOGETHER = told_time(BEAT, BEAT)


def marked(sound: KnownSound, key: str = "C") -> list[MarkedNote]:
    """The notes of a sound on a harp in ``key``."""
    found = [(frames, marks_of(frames)) for frames in notes_by_chain(sound, key)]
    return [MarkedNote(frames, marks) for frames, marks in found if marks is not None]


@cache
def teacher() -> list[MarkedNote]:
    """Two thirds begun low and let go of."""
    return marked(played_by(TEACHER))


@cache
def phrase() -> list[MarkedNote]:
    """The same between roots."""
    return marked(phrase_by(TEACHER))


def beside(student: Student, told: CommonTime | None = TOGETHER) -> Comparison:
    """A student beside the teacher."""
    return compare(teacher(), marked(played_by(student)), ZONE, ZONE, SETTINGS, told)


def said(found: Comparison) -> dict[str, Row]:
    """What is said of the first third, by what it is about."""
    third = found.thirds[0]
    assert third.student is not None
    return {row.what: row for row in rows(third, third.student.marks, ZONE, ZONE, found.time)}


SAID = {
    "shallow": "Begin lower, bent before you breathe: it began plainly above where your teacher begins it, "
    "by 63 cents.",
    "deep": "Begin less deep: it began plainly under where your teacher begins it, by 70 cents.",
    "unreleased": "Let go of the bend while it sounds, over one beat: it stayed 85 cents under where your "
    "teacher holds it.",
    "two holes": "Narrow your lips until one hole sounds alone: two were heard in 100 % of it.",
    "late": "Start sooner: it came 160 ms behind the beat.",
}


@pytest.mark.parametrize("fault", SAID)
def test_each_students_fault_is_told_beside_the_teacher(fault: str) -> None:
    """Too shallow, too deep, no release, two holes, late: one sentence each, with the amount."""
    advice = beside(FAULTY[fault]).advice
    assert advice.fault == fault
    words, wanted = advice.sentence.split(), SAID[fault].split()
    assert [word for word in words if not word.isdecimal()] == [word for word in wanted if not word.isdecimal()]
    amounts = [float(word) for word in words if word.isdecimal()]
    assert amounts == pytest.approx([float(word) for word in wanted if word.isdecimal()], abs=4.0)


def test_who_plays_like_the_teacher_has_nothing_to_mend() -> None:
    """In the same key and tempo, in another key, more slowly."""
    assert beside(TEACHER).advice.fault is None
    other_harp = marked(phrase_by(TEACHER, "A", tempo=60.0), "A")
    found = compare(phrase(), other_harp, ZONE, ZONE, SETTINGS)
    assert found.advice.fault is None
    assert found.time is not None
    assert found.time.scale == pytest.approx(TEMPO / 60.0, abs=0.01)
    assert tempo_words(found.time, found.thirds) == (
        "The student plays at 80 % of the teacher's tempo, as the other notes tell; "
        "in the pictures the beats of both lie at the same places."
    )
    for third in found.thirds:
        assert third.late_s == pytest.approx(0.0, abs=0.02)
    row = said(found)
    assert [row[what].difference for what in ("began", "settled", "steady", "holes", "start")] == [
        *("the same", "the same", "the same", "the same"),
        "on the beat",
    ]
    assert row["let go"].difference == "as quickly, as far"


def test_a_late_third_is_heard_against_the_other_notes() -> None:
    """Nobody has said where the beat is: the roots tell it."""
    found = compare(phrase(), marked(phrase_by(FAULTY["late"])), ZONE, ZONE, SETTINGS)
    assert found.advice.fault == "late"
    for third in found.thirds:
        assert third.late_s == pytest.approx(LATE_S, abs=0.02)
    assert "ms behind the beat" in said(found)["start"].difference
    assert others_words(found.others) == "Of 3 other notes of the teacher's 3 matched."


def test_without_a_beat_nothing_is_said_of_starts() -> None:
    """Two thirds alone, no tempo told."""
    found = beside(FAULTY["late"], None)
    assert found.time is None
    assert found.advice.fault is None
    assert said(found)["start"].difference == "the beat is not known"
    assert "is not known" in tempo_words(found.time, found.thirds)


def test_differences_are_the_students_less_the_teachers() -> None:
    """In cents over each one's root, with the sides named."""
    shallow = said(beside(FAULTY["shallow"]))
    assert "85 cents under straight" in shallow["began"].teacher
    assert shallow["began"].difference.endswith("cents higher")
    assert float(shallow["began"].difference.split()[0]) == pytest.approx(63.0, abs=4.0)
    assert shallow["settled"].difference == "the same"
    kept = said(beside(FAULTY["unreleased"]))
    assert (kept["let go"].student, kept["let go"].difference) == ("not let go", "only the teacher lets go")
    assert kept["settled"].difference.endswith("cents lower")
    doubled = said(beside(FAULTY["two holes"]))
    assert doubled["holes"] == Row("holes", "one", "two in 100 % of it", "a second hole sounds")


def test_a_third_that_was_not_played_is_told() -> None:
    """The teacher's stands alone, and so does what the student played instead."""
    found = compare(phrase(), [note for note in phrase() if note is not phrase()[3]], ZONE, ZONE, SETTINGS)
    assert [third.student is None for third in found.thirds] == [False, True]
    assert found.advice.sentence == "Play every one of them: 1 of 2 was not heard."
    assert alone_words(found.thirds[1].teacher.marks, ZONE).endswith("It was not heard from the student.")
    swapped = compare(phrase()[:2], [phrase()[1], phrase()[0]], ZONE, ZONE, SETTINGS)
    assert others_words(swapped.others) in {
        "Of 1 other note of the teacher's 0 matched; left out: 1; played besides: 1.",
        "Of 1 other note of the teacher's 1 matched; played besides: 3.",
    }


def test_what_the_teacher_does_too_is_no_fault() -> None:
    """Two holes are wanted where the teacher plays two."""
    doubled = marked(played_by(FAULTY["two holes"]))
    assert compare(doubled, doubled, ZONE, ZONE, SETTINGS, TOGETHER).advice.fault is None


def test_nothing_is_called_right_or_wrong() -> None:
    """In no row of any student."""
    for fault in FAULTY:
        for row in said(beside(FAULTY[fault])).values():
            words = f"{row.teacher} {row.student} {row.difference}".lower().split()
            assert not {"right", "wrong", "correct", "incorrect", "bad"} & set(words)
