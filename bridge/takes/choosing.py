"""Which notes an edit is for: by number, by degree, by time."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bridge.base.errors import UserError
from bridge.quantise.scales import DEGREES
from bridge.takes.edited import EditedNote

#: The third is one place, whichever side of it a scale has slots for.
THIRD = frozenset({"3", "b3"})
#: The digits of a note's number; nobody plays ten thousand million of them.
_NUMBER = re.compile(r"[0-9]{1,10}")


@dataclass(frozen=True, slots=True)
class Choice:
    """The notes that have a number in ``ids``, dwelt on one of ``degrees`` and sound between two times, in seconds.

    Of each run of numbers the first and the last are given. None, and an infinite time, leave all in.
    """

    ids: tuple[tuple[int, int], ...] | None = None
    degrees: frozenset[str] | None = None
    from_s: float = 0.0
    to_s: float = float("inf")

    def holds(self, note: EditedNote) -> bool:
        """Whether the note is one of them; by time, if any of it sounds there."""
        return (
            (self.ids is None or any(first <= note.id <= last for first, last in self.ids))
            and (self.degrees is None or note.degree in self.degrees)
            and note.start_s < self.to_s
            and note.end_s > self.from_s
        )

    def check(self, notes: Sequence[EditedNote]) -> None:
        """Raise UserError for numbers that no note has."""
        have = sorted(note.id for note in notes)
        lacking = [words for run in self.ids or () if (words := _lacking(run, have))]
        if lacking:
            said = f"{have[0]} to {have[-1]}" if have else "none"
            raise UserError(f"There is no note {', '.join(lacking)}. The take has the notes {said}.")


def parse_ids(words: str) -> tuple[tuple[int, int], ...]:
    """First and last of each run in ``3,5-9``. Raises UserError saying what is allowed."""
    runs = []
    for word in words.split(","):
        first, dash, last = (part.strip() for part in word.partition("-"))
        typed = (first, last) if dash else (first, first)
        if not all(_NUMBER.fullmatch(part) for part in typed) or int(typed[1]) < int(typed[0]):
            raise UserError(f"Notes {words!r}: found {word.strip()!r}. Give numbers of notes such as 3,5-9.")
        runs.append((int(typed[0]), int(typed[1])))
    return tuple(runs)


def _lacking(run: tuple[int, int], have: Sequence[int]) -> str:
    """The numbers of a run that are not among those, which are in order; empty where all are."""
    gaps, next_id = [], run[0]
    for known in have[bisect_left(have, run[0]) : bisect_right(have, run[1])]:
        gaps.append((next_id, known - 1))
        next_id = known + 1
    gaps.append((next_id, run[1]))
    return ", ".join(f"{first}" if first == last else f"{first}-{last}" for first, last in gaps if first <= last)


def parse_degrees(words: str) -> frozenset[str]:
    """The degrees in ``3,5``; 3 takes b3 as well. Raises UserError listing the degrees."""
    degrees = {word.strip() for word in words.split(",")}
    unknown = sorted(degrees - set(DEGREES))
    if unknown:
        raise UserError(f"There is no degree {', '.join(map(repr, unknown))}. Degrees: {' '.join(DEGREES)}.")
    return with_whole_third(degrees)


def with_whole_third(degrees: Iterable[str]) -> frozenset[str]:
    """The degrees, and where the third is one of them its minor side too: it is one place."""
    chosen = frozenset(degrees)
    return chosen | THIRD if "3" in chosen else chosen
