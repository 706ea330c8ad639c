"""A student's playing beside a teacher's: which third is which, how far apart they are, one thing to try next.

Conventions: cents are above the root of each one's own harp; a difference is the student's less the teacher's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bridge.quantise.third import ThirdZone
from bridge.study.advice import Advice, advise
from bridge.study.aims import Aim, Missed, came_to, held_at, missed, near
from bridge.study.alignment import MarkedNote, aligned, degree_of, is_third
from bridge.study.common_time import CommonTime, Starts, found_time
from bridge.study.marks import LET_GO_CENTS, Beat, NoteMarks
from bridge.study.settings import StudySettings

#: What is shorter was hardly meant as a note, seconds.
_SHORTEST_S = 0.08
#: A student who strays so much more than the teacher is less steady, cents.
_STEADIER_CENTS = 4.0


@dataclass(frozen=True, slots=True)
class ComparedThird:
    """One third of the teacher's, and the student's, None where the student played none.

    ``late_s`` is how far the student began behind the moment that belongs to the teacher's start, None where that is
    not known.
    """

    teacher: MarkedNote
    student: MarkedNote | None
    late_s: float | None


@dataclass(frozen=True, slots=True)
class OtherNotes:
    """What was played besides: of ``wanted`` notes of the teacher's ``played``; the degrees left out, and those added.

    Both are spelled like ``b7``; a third that only the student played is among those added.
    """

    wanted: int
    played: int
    left_out: tuple[str, ...]
    added: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """``thirds`` in the order in which the teacher plays them; ``time`` is None where nothing tells it."""

    thirds: tuple[ComparedThird, ...]
    others: OtherNotes
    time: CommonTime | None
    advice: Advice


def long_enough(notes: Sequence[MarkedNote]) -> list[MarkedNote]:
    """Those that are notes at all."""
    return [note for note in notes if note.marks.length_s >= _SHORTEST_S]


def compare(
    teacher: Sequence[MarkedNote],
    student: Sequence[MarkedNote],
    teacher_zone: ThirdZone,
    student_zone: ThirdZone,
    settings: StudySettings,
    told: CommonTime | None = None,
) -> Comparison:
    """Compare two playings, each with the zone of its own harp; ``told`` is their common time where it was said."""
    pairs = aligned([note.marks for note in teacher], [note.marks for note in student], teacher_zone, student_zone)
    both = [(teacher[one], student[other]) for one, other in pairs if one is not None and other is not None]
    time = told or found_time(
        [Starts(one.marks.start_s, other.marks.start_s, is_third(one.marks, teacher_zone)) for one, other in both]
    )
    thirds, left_out, added, wanted = [], [], [], 0
    for one, other in pairs:
        if one is None:
            added += [degree_of(student[place].marks, student_zone) for place in [other] if place is not None]
        elif is_third(teacher[one].marks, teacher_zone):
            thirds.append(_compared(teacher[one], None if other is None else student[other], time))
        else:
            wanted += 1
            left_out += [degree_of(teacher[one].marks, teacher_zone)] if other is None else []
    others = OtherNotes(wanted, wanted - len(left_out), tuple(left_out), tuple(added))
    aims = [_aim(third.teacher.marks, teacher_zone, settings) for third in thirds]
    misses = [_missed(aim, third, time) for aim, third in zip(aims, thirds, strict=True)]
    return Comparison(tuple(thirds), others, time, advise(aims, misses, settings))


def _compared(teacher: MarkedNote, student: MarkedNote | None, time: CommonTime | None) -> ComparedThird:
    if student is None or time is None:
        return ComparedThird(teacher, student, None)
    return ComparedThird(teacher, student, student.marks.start_s - time.at(teacher.marks.start_s))


def _aim(marks: NoteMarks, zone: ThirdZone, settings: StudySettings) -> Aim:
    """What the teacher played, as an aim whose beats are seconds of the teacher's."""
    straight = zone.straight - settings.near_cents
    release = marks.release
    # What only ends the note, and is let go of too late to settle, is not asked of a student.
    let_go = (
        release is not None
        and release.rise_cents >= LET_GO_CENTS
        and marks.settle_cents >= 0.5 * (release.from_cents + release.to_cents)
    )
    holds = came_to(marks) if let_go else held_at(marks)
    return Aim(
        marks.start_s,
        marks.length_s,
        near("where your teacher holds it", holds, settings.near_cents, bent=holds < straight),
        near("where your teacher begins it", marks.begin_cents, settings.near_cents, bent=marks.begin_cents < straight),
        release_beats=release.length_s if release is not None and let_go else None,
    )


def _missed(aim: Aim, third: ComparedThird, time: CommonTime | None) -> Missed | None:
    """How far the student misses the teacher; what the teacher does as well is not missed."""
    if third.student is None:
        return None
    beat = None if time is None else Beat(time.offset_s, time.scale)
    student, teacher = third.student.marks, third.teacher.marks
    found = missed(aim, student, beat)
    if student.steady_cents <= teacher.steady_cents + _STEADIER_CENTS:
        found = replace(found, steady_cents=0.0)
    if teacher.two_holes or student.clean >= teacher.clean:
        found = replace(found, two_holes=False, unclean=0.0)
    return found
