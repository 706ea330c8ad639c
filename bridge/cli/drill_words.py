"""What ``reedwire drill`` says: the exercises, the marks of each note, one thing to try next, and the progress."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from statistics import median

from bridge.quantise.third import ThirdZone
from bridge.study.exercises import COUNT_IN, Exercise
from bridge.study.mark_words import marks_words
from bridge.wiring.drilling import Attempt
from bridge.wiring.player_file import Kept

#: Rows and columns of the plot.
_ROWS, _COLUMNS = 6, 48
_LEAST_TOP_CENTS = 40.0
#: So many times at either end are taken together where there are enough; and a terminal is so wide.
_FEW, _WIDE = 3, 80


def list_lines(exercises: Sequence[Exercise]) -> list[str]:
    """Every exercise with what is to be played."""
    return [f"  {exercise.name:<9} {exercise.how}" for exercise in exercises]


def opening_lines(exercise: Exercise, tempo: float) -> list[str]:
    """What is to be played, and how fast."""
    return [f"{exercise.title}. {exercise.how}", f"{tempo:g} beats a minute, after {COUNT_IN} that are counted."]


def attempt_lines(attempt: Attempt, zone: ThirdZone) -> list[str]:
    """The marks of each note, how far off the whole was, and one thing to try next."""
    beat_s = None if attempt.beat is None else attempt.beat.period_s
    lines = []
    for number, note in enumerate(attempt.notes, start=1):
        said = "not heard" if note is None else marks_words(note, zone, beat_s)
        lines += textwrap.wrap(f"{said}.", _WIDE, initial_indent=f"  {number}  ", subsequent_indent="     ")
    advice = attempt.advice
    if any(note is not None for note in attempt.notes) and advice.fault != "two holes":
        lines.append(f"  {_off(advice.off_cents)}{_gained(attempt)}")
    return [*lines, f"Next: {advice.sentence}"]


def progress_lines(kept: Sequence[Kept], exercise: Exercise) -> list[str]:
    """How far off each time was, as a plot in plain text and in words; nothing before the second time."""
    off = [each.off_cents for each in kept if each.exercise == exercise.name]
    if len(off) < 2:
        return []
    shown = off[-_COLUMNS:]
    top = max(_LEAST_TOP_CENTS, *shown)
    lines = [f"{exercise.title}: cents off, the last {len(shown)} times, oldest first"]
    for row in range(_ROWS, -1, -1):
        marks = "".join("o" if round(_ROWS * cents / top) == row else " " for cents in shown)
        label = f"{top * row / _ROWS:.0f}" if row in {0, _ROWS // 2, _ROWS} else ""
        lines.append(f"{label:>5} |{marks}".rstrip())
    return [*lines, f"{len(off)} times: {_first_and_last(off)}; the nearest {min(off):.0f}."]


def _first_and_last(off: Sequence[float]) -> str:
    """How far off it was in the beginning, and is now: one time each, or the middle of a few where there are many."""
    if len(off) < 2 * _FEW:
        return f"{off[0]:.0f} cents off the first time, {off[-1]:.0f} the last"
    return f"{median(off[:_FEW]):.0f} cents off in the beginning, {median(off[-_FEW:]):.0f} now"


def _off(cents: float) -> str:
    """How far off its places the whole was."""
    return "Within its places." if cents < 0.5 else f"{cents:.0f} cents off its places."


def _gained(attempt: Attempt) -> str:
    """What became of it since the time before."""
    gained = attempt.advice.gained_cents
    if gained is None or round(gained) == 0:
        return ""
    if attempt.advice.success:
        return f" That is {gained:.0f} cents nearer than the time before: well done."
    return f" {abs(gained):.0f} cents {'nearer' if gained > 0.0 else 'further off'} than the time before."
