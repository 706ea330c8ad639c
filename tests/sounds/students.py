"""A student who plays a third that is begun low and let go of, well or with one fault, as sound whose truth is known.

The faults are those of which a teacher hears most (common practice, no source): bent too little, bent too deep, never
let go of, two holes at once, behind the beat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bridge.base.units import midi_to_hz
from bridge.capture.player import Performance, PlayedNote, perform
from bridge.capture.reed_tone import ReedVoice
from sounds.known import KnownSound
from sounds.rehearsed import RATE, from_performance, harp_hz
from sounds.scores import DRAW, KEYS

#: Beats a minute; the first beat lies at so many seconds of the sound.
TEMPO = 75.0
FIRST_S = 0.6
LATE_S = 0.16
#: The notes are begun at these beats, held low for a beat, let go of over one, held straight for the rest of three.
BEATS = (0.0, 4.0)


@dataclass(frozen=True)
class Student:
    """How somebody plays it: cents above the root where it begins and where it ends, and what goes wrong."""

    name: str
    begin_cents: float = 315.0
    end_cents: float = 400.0
    late_s: float = 0.0
    two_holes: bool = False


TEACHER = Student("teacher")
#: Each with the fault that ``bridge.study.advice`` must name.
FAULTY = {
    "shallow": Student("too shallow", begin_cents=378.0),
    "deep": Student("too deep", begin_cents=245.0),
    "unreleased": Student("no release", end_cents=315.0),
    "two holes": Student("two holes", two_holes=True),
    "late": Student("late", late_s=LATE_S),
}


def played_by(student: Student, key: str = "C", a4_hz: float = 440.0, tempo: float = TEMPO) -> KnownSound:
    """What ``student`` plays on a harp in ``key``, two notes of three beats each, with the truth of its lower reed.

    With two holes draw 4 sounds beside draw 3, as loud.
    """
    beat_s = 60.0 / tempo
    notes = thirds_of(student, BEATS, beat_s, harp_hz(key, a4_hz)[0])
    length_s = FIRST_S + 8.0 * beat_s + 0.5
    lower = _performed(notes, length_s)
    name = f"student, {student.name}, {key}"
    if not student.two_holes:
        return from_performance(lower, name)
    draw_4 = midi_to_hz(DRAW[3] + KEYS[key], a4_hz)
    other = [replace(note, hz=draw_4, glide=(), voice=ReedVoice(fundamental=0.5)) for note in notes]
    both = lower.samples + _performed(other, length_s, seed=2).samples
    return from_performance(replace(lower, samples=both.astype(np.float32)), name)


def phrase_by(student: Student, key: str = "C", tempo: float = TEMPO) -> KnownSound:
    """The same thirds, one hole alone, each between roots that are in time whoever plays them."""
    beat_s, root_hz = 60.0 / tempo, harp_hz(key, 440.0)[0]
    roots = [PlayedNote(FIRST_S + beat * beat_s, 0.8 * beat_s, root_hz) for beat in (0.0, 5.0, 10.0)]
    notes = roots + thirds_of(student, (1.0, 6.0), beat_s, root_hz)
    return from_performance(_performed(notes, FIRST_S + 11.0 * beat_s), f"phrase, {student.name}, {key}")


def thirds_of(student: Student, beats: Sequence[float], beat_s: float, root_hz: float) -> list[PlayedNote]:
    """Thirds begun at these beats over a root, of three beats each."""
    low, high = student.begin_cents - 400.0, student.end_cents - 400.0
    return [
        PlayedNote(
            FIRST_S + beat * beat_s + student.late_s,
            2.9 * beat_s,
            root_hz * 2.0 ** (400.0 / 1200.0),
            ((beat_s, low), (2.0 * beat_s, high)) if low != high else ((0.0, low),),
            wander_cents=2.0,
        )
        for beat in beats
    ]


def _performed(notes: Sequence[PlayedNote], length_s: float, seed: int = 1) -> Performance:
    return perform(notes, RATE, seed, length_s=length_s)
