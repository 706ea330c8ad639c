"""Which note of one playing is which of another: both in their order, at any tempo, in any key and octave.

The two are laid beside each other so that it costs least (Needleman & Wunsch, Journal of Molecular Biology 48, 1970): a
pair costs as much as its notes lie apart over the root, and a note that is left alone has a price of its own. All
thirds, however they are bent, are at one place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.base.units import CENTS_PER_OCTAVE
from bridge.quantise.scales import DEGREES
from bridge.quantise.third import ThirdZone
from bridge.study.marks import NoteMarks
from bridge.study.note_frames import NoteFrames

#: The third reaches so far below its minor and above its straight pitch, cents.
_BELOW_MINOR, _ABOVE_STRAIGHT = 75.0, 40.0
#: Notes as far apart as this, cents, are as dear as one that is left alone twice.
_APART_CENTS = 100.0
_ALONE, _MOST = 0.6, 2.0
#: Of notes at one place those that go alike belong together: all of this when they are an octave's third apart, cents.
_ALIKE, _UNLIKE_CENTS = 0.15, 400.0
_CENTS_PER_SEMITONE = 100.0
_BOTH, _ABOVE, _LEFT = (1, 1), (1, 0), (0, 1)

#: Places in both, None where one has no such note.
Pair = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True, eq=False)
class MarkedNote:
    """A note that was heard: its frames, and what they say."""

    frames: NoteFrames
    marks: NoteMarks


def is_third(marks: NoteMarks, zone: ThirdZone) -> bool:
    """Whether a note is a third: it was held on it, or begun on it."""
    low, high = zone.minor - _BELOW_MINOR, zone.straight + _ABOVE_STRAIGHT
    return low <= marks.settle_cents <= high or (marks.settle_cents < low <= marks.begin_cents <= high)


def degree_of(marks: NoteMarks, zone: ThirdZone) -> str:
    """The degree on which a note was held, as it is spelled: ``1``, ``b7``; ``3`` for any third."""
    if is_third(marks, zone):
        return "3"
    return DEGREES[round(marks.settle_cents / _CENTS_PER_SEMITONE) % len(DEGREES)]


def aligned(
    teacher: Sequence[NoteMarks], student: Sequence[NoteMarks], teacher_zone: ThirdZone, student_zone: ThirdZone
) -> list[Pair]:
    """Pairs of the notes of both in order of time, every note of both in exactly one."""
    rows, columns = len(teacher), len(student)
    cost = np.zeros((rows + 1, columns + 1))
    # How each cheapest way came to its place: from above, from the left, or from both.
    steps = np.zeros((rows + 1, columns + 1, 2), np.int64)
    steps[1:, 0], steps[0, 1:] = _ABOVE, _LEFT
    cost[:, 0] = _ALONE * np.arange(rows + 1)
    cost[0, :] = _ALONE * np.arange(columns + 1)
    pair = [[_apart(one, other, teacher_zone, student_zone) for other in student] for one in teacher]
    for row in range(rows):
        for column in range(columns):
            ways = (
                (cost[row, column] + pair[row][column], _BOTH),
                (cost[row, column + 1] + _ALONE, _ABOVE),
                (cost[row + 1, column] + _ALONE, _LEFT),
            )
            cost[row + 1, column + 1], steps[row + 1, column + 1] = min(ways, key=lambda way: way[0])
    found: list[Pair] = []
    row, column = rows, columns
    while row or column:
        up, left = steps[row, column].tolist()
        row, column = row - up, column - left
        found.append((row if up else None, column if left else None))
    return found[::-1]


def _apart(one: NoteMarks, other: NoteMarks, zone: ThirdZone, other_zone: ThirdZone) -> float:
    """What it costs to take one note for the other."""
    unlike = abs(one.begin_cents - other.begin_cents) + abs(one.settle_cents - other.settle_cents)
    alike = _ALIKE * min(1.0, unlike / _UNLIKE_CENTS)
    thirds = is_third(one, zone), is_third(other, other_zone)
    if all(thirds):
        return alike
    cents = abs(one.settle_cents - other.settle_cents)
    if any(thirds):
        settled, third = (other.settle_cents, zone) if thirds[0] else (one.settle_cents, other_zone)
        cents = max(third.minor - _BELOW_MINOR - settled, settled - third.straight - _ABOVE_STRAIGHT, 0.0)
    cents %= CENTS_PER_OCTAVE
    return min(_MOST, min(cents, CENTS_PER_OCTAVE - cents) / _APART_CENTS) + alike
