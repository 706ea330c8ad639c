"""A comparison in words and numbers: how far apart two players are, never who is right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.base.units import clip
from bridge.quantise.third import ThirdZone
from bridge.study.common_time import CommonTime
from bridge.study.comparison import ComparedThird, OtherNotes
from bridge.study.mark_words import beat_words, place_words
from bridge.study.marks import NoteMarks

#: Nearer than this nobody hears the difference, cents (the best trained listeners: 2 to 3.5, from memory).
_SAME_CENTS = 4.0
#: Releases that take so much of each other's length are as quick, and so are those this near, seconds.
_SAME_PART, _SAME_S = 0.25, 0.08
#: A tempo this near is the same, as a part of it.
_SAME_TEMPO = 0.03


@dataclass(frozen=True, slots=True)
class Row:
    """One thing about a note: what it is, how it was with the teacher and with the student, and the difference."""

    what: str
    teacher: str
    student: str
    difference: str


def rows(
    third: ComparedThird, student: NoteMarks, teacher_zone: ThirdZone, student_zone: ThirdZone, time: CommonTime | None
) -> list[Row]:
    """All that is said of one third that both played."""
    one, scale = third.teacher.marks, 1.0 if time is None else time.scale
    found = [
        Row(
            "began",
            place_words(one.begin_cents, teacher_zone),
            place_words(student.begin_cents, student_zone),
            _higher(student.begin_cents - one.begin_cents),
        ),
        Row(
            "settled",
            _settled(one, teacher_zone),
            _settled(student, student_zone),
            _higher(student.settle_cents - one.settle_cents),
        ),
        Row("let go", _let_go(one), _let_go(student), _let_go_difference(one, student, scale)),
        Row("steady", _steady(one), _steady(student), _steadier(student.steady_cents - one.steady_cents)),
        Row("holes", _holes(one), _holes(student), _cleaner(one, student)),
        Row("start", f"at {one.start_s:.2f} s", f"at {student.start_s:.2f} s", _start(third.late_s)),
    ]
    if one.vibrato is not None or student.vibrato is not None:
        found.append(Row("vibrato", _vibrato(one), _vibrato(student), _vibrato_difference(one, student)))
    return found


def alone_words(marks: NoteMarks, zone: ThirdZone) -> str:
    """What is said of a third of the teacher's that the student did not play."""
    return (
        f"Began {place_words(marks.begin_cents, zone)}; settled {_settled(marks, zone)}; {_let_go(marks)}. "
        "It was not heard from the student."
    )


def tempo_words(time: CommonTime | None, thirds: Sequence[ComparedThird]) -> str:
    """How the tempo of the student lies to that of the teacher, and what told it."""
    if time is None:
        return (
            "How the starts lie against the beat is not known: the notes of both keep no time together, or are too few."
        )
    if time.told:
        return "The beat is as told."
    told = "the other notes" if any(third.late_s for third in thirds) else "the notes"
    if abs(time.scale - 1.0) <= _SAME_TEMPO:
        return f"Both play at the same tempo, as {told} tell."
    return (
        f"The student plays at {100.0 / time.scale:.0f} % of the teacher's tempo, as {told} tell; "
        "in the pictures the beats of both lie at the same places."
    )


def others_words(others: OtherNotes) -> str:
    """What was played besides the thirds; empty where nothing was."""
    said = []
    if others.wanted:
        said.append(
            f"Of {others.wanted} other note{'s' * (others.wanted > 1)} of the teacher's {others.played} matched"
        )
    if others.left_out:
        said.append(f"left out: {', '.join(others.left_out)}")
    if others.added:
        said.append(f"{'played' if said else 'Played'} besides: {', '.join(others.added)}")
    return "; ".join(said) + "." if said else ""


def _higher(cents: float) -> str:
    if abs(cents) <= _SAME_CENTS:
        return "the same"
    return f"{abs(cents):.0f} cents {'higher' if cents > 0.0 else 'lower'}"


def _settled(marks: NoteMarks, zone: ThirdZone) -> str:
    words = place_words(marks.settle_cents, zone)
    return f"{words}, after {marks.settle_s:.2f} s" if marks.settle_s > 0.0 else words


def _let_go(marks: NoteMarks) -> str:
    if marks.release is None:
        return "not let go"
    return f"over {marks.release.length_s:.2f} s, up {marks.release.rise_cents:.0f} cents"


def _let_go_difference(one: NoteMarks, other: NoteMarks, scale: float) -> str:
    if one.release is None or other.release is None:
        if one.release is None and other.release is None:
            return "the same"
        return "only the teacher lets go" if other.release is None else "only the student lets go"
    longer_s = other.release.length_s / scale - one.release.length_s
    if abs(longer_s) <= max(_SAME_S, _SAME_PART * one.release.length_s):
        further = other.release.rise_cents - one.release.rise_cents
        far = (
            "as far" if abs(further) <= _SAME_CENTS else f"{abs(further):.0f} cents {'more' if further > 0 else 'less'}"
        )
        return f"as quickly, {far}"
    return f"{abs(longer_s):.2f} s {'slower' if longer_s > 0.0 else 'quicker'}"


def _steady(marks: NoteMarks) -> str:
    strayed = max(1, round(marks.steady_cents))
    return f"within {strayed} cent{'s' * (strayed > 1)}"


def _steadier(cents: float) -> str:
    if abs(cents) <= _SAME_CENTS:
        return "the same"
    return f"strays {abs(cents):.0f} cents {'more' if cents > 0.0 else 'less'}"


def _holes(marks: NoteMarks) -> str:
    return f"two in {100.0 * clip(1.0 - marks.clean, 0.0, 1.0):.0f} % of it" if marks.two_holes else "one"


def _cleaner(one: NoteMarks, other: NoteMarks) -> str:
    if one.two_holes == other.two_holes:
        return "the same"
    return "a second hole sounds" if other.two_holes else "one hole, the teacher two"


def _start(late_s: float | None) -> str:
    return "the beat is not known" if late_s is None else beat_words(late_s)


def _vibrato(marks: NoteMarks) -> str:
    if marks.vibrato is None:
        return "none"
    return f"{marks.vibrato.rate_hz:.1f} a second, {marks.vibrato.depth_cents:.0f} cents each way"


def _vibrato_difference(one: NoteMarks, other: NoteMarks) -> str:
    if one.vibrato is None or other.vibrato is None:
        return "only the teacher's" if other.vibrato is None else "only the student's"
    deeper = other.vibrato.depth_cents - one.vibrato.depth_cents
    faster = other.vibrato.rate_hz - one.vibrato.rate_hz
    depth = (
        "as deep"
        if abs(deeper) <= _SAME_CENTS
        else f"{abs(deeper):.0f} cents {'deeper' if deeper > 0 else 'less deep'}"
    )
    rate = "as fast" if abs(faster) < 0.5 else f"{abs(faster):.1f} a second {'faster' if faster > 0 else 'slower'}"
    return f"{rate}, {depth}"
