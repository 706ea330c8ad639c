"""One time through an exercise: when it is listened to, and what its notes come to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bridge.study.advice import Advice, advise
from bridge.study.aims import Missed, missed, played
from bridge.study.exercises import COUNT_IN, Exercise
from bridge.study.marks import Beat, NoteMarks
from bridge.study.settings import StudySettings

#: Before the first beat of the count-in, and after the last beat of the exercise, so long is listened, seconds.
LEAD_S, TAIL_S = 0.3, 1.0


@dataclass(frozen=True, slots=True)
class Attempt:
    """One time through an exercise: the marks of the note for each of its aims, None where none was heard.

    ``beat`` is None where no tempo is known. ``others`` are the notes that were no third (nor, where one is asked for,
    a root): they are named, and nothing is said of how they were.
    """

    exercise: Exercise
    beat: Beat | None
    notes: tuple[NoteMarks | None, ...]
    advice: Advice
    others: tuple[NoteMarks, ...] = ()

    @property
    def heard(self) -> bool:
        """Whether any note of the exercise was."""
        return any(note is not None for note in self.notes)


def round_s(exercise: Exercise, beat_s: float) -> float:
    """How long one time through takes, count-in and all, seconds."""
    return LEAD_S + (COUNT_IN + exercise.beats) * beat_s + TAIL_S


def round_beat(beat_s: float, delay_s: float) -> Beat:
    """The beat of one time through, whose stream begins ``LEAD_S`` before the count-in."""
    return Beat(LEAD_S + COUNT_IN * beat_s, beat_s, delay_s)


def judge(
    exercise: Exercise,
    notes: Sequence[NoteMarks],
    settings: StudySettings,
    beat: Beat | None = None,
    before_cents: float | None = None,
) -> Attempt:
    """One time through ``exercise``, with ``notes`` in the order of time; ``before_cents`` is as in :func:`advise`."""
    others = tuple(note for note in notes if not exercise.belongs(note.settle_cents))
    chosen = played(exercise.aims, [note for note in notes if note not in others], beat)
    misses = [
        None if note is None else missed(aim, note, beat) for aim, note in zip(exercise.aims, chosen, strict=True)
    ]
    in_time = [
        note if note is None or miss is None else replace(note, late_s=miss.late_s)
        for note, miss in zip(chosen, misses, strict=True)
    ]
    return Attempt(
        exercise, beat, tuple(in_time), _advised(exercise, misses, settings, before_cents, beat, others), others
    )


def _advised(
    exercise: Exercise,
    misses: Sequence[Missed | None],
    settings: StudySettings,
    before_cents: float | None,
    beat: Beat | None,
    others: Sequence[NoteMarks],
) -> Advice:
    """What to try next; where only other notes were heard, the right hole before anything else."""
    advice = advise(exercise.aims, misses, settings, before_cents, None if beat is None else beat.period_s)
    if advice.fault == "nothing" and others:
        return replace(advice, sentence="Find the hole of the third first: other notes were heard, and no third.")
    return advice
