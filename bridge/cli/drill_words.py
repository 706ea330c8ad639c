"""What ``reedwire drill`` says: the exercises, the marks of each note, one thing to try next, and the progress."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from bridge.quantise.third import ThirdZone
from bridge.study.attempt import Attempt
from bridge.study.attempt_words import next_words, note_words, off_words, so_far_words
from bridge.study.exercises import COUNT_IN, Exercise
from bridge.takes.player_file import Kept, off_cents_of

#: Rows and columns of the plot.
_ROWS, _COLUMNS = 6, 48
_LEAST_TOP_CENTS = 40.0
#: A terminal is so wide.
_WIDE = 80


def list_lines(exercises: Sequence[Exercise]) -> list[str]:
    """Every exercise with what is to be played."""
    return [f"  {exercise.name:<9} {exercise.how}" for exercise in exercises]


def opening_lines(exercise: Exercise, tempo: float) -> list[str]:
    """What is to be played, and how fast."""
    return [f"{exercise.title}. {exercise.how}", f"{tempo:g} beats a minute, after {COUNT_IN} that are counted."]


def attempt_lines(attempt: Attempt, zone: ThirdZone) -> list[str]:
    """The marks of each note, how far off the whole was, and one thing to try next."""
    lines = []
    for number, said in enumerate(note_words(attempt, zone), start=1):
        lines += textwrap.wrap(said, _WIDE, initial_indent=f"  {number}  ", subsequent_indent="     ")
    lines += textwrap.wrap(off_words(attempt), _WIDE, initial_indent="  ", subsequent_indent="  ")
    return [*lines, next_words(attempt)]


def progress_lines(kept: Sequence[Kept], exercise: Exercise) -> list[str]:
    """How far off each time was, as a plot in plain text and in words; nothing before the second time."""
    off = off_cents_of(kept, exercise.name)
    if len(off) < 2:
        return []
    shown = off[-_COLUMNS:]
    top = max(_LEAST_TOP_CENTS, *shown)
    lines = [f"{exercise.title}: cents off, the last {len(shown)} times, oldest first"]
    for row in range(_ROWS, -1, -1):
        marks = "".join("o" if round(_ROWS * cents / top) == row else " " for cents in shown)
        label = f"{top * row / _ROWS:.0f}" if row in {0, _ROWS // 2, _ROWS} else ""
        lines.append(f"{label:>5} |{marks}".rstrip())
    return [*lines, so_far_words(off)]
