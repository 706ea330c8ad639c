"""Which notes an edit is for: by number, by degree, by time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bridge.base.errors import UserError
from bridge.quantise.scales import DEGREES
from bridge.takes.edited import EditedNote

#: The third is one place, whichever side of it a scale has slots for.
THIRD = frozenset({"3", "b3"})


@dataclass(frozen=True, slots=True)
class Choice:
    """The notes that have one of ``ids``, dwelt on one of ``degrees`` and sound between two times, in seconds.

    None, and an infinite time, leave all in.
    """

    ids: frozenset[int] | None = None
    degrees: frozenset[str] | None = None
    from_s: float = 0.0
    to_s: float = float("inf")

    def holds(self, note: EditedNote) -> bool:
        """Whether the note is one of them; by time, if any of it sounds there."""
        return (
            (self.ids is None or note.id in self.ids)
            and (self.degrees is None or note.degree in self.degrees)
            and note.start_s < self.to_s
            and note.end_s > self.from_s
        )

    def check(self, notes: Sequence[EditedNote]) -> None:
        """Raise UserError for an id that no note has."""
        unknown = sorted((self.ids or frozenset()) - {note.id for note in notes})
        if unknown:
            have = f"{min(note.id for note in notes)} to {max(note.id for note in notes)}" if notes else "none"
            raise UserError(f"There is no note {', '.join(map(str, unknown))}. The take has the notes {have}.")


def parse_ids(words: str) -> frozenset[int]:
    """The numbers in ``3,5-9``. Raises UserError saying what is allowed."""
    ids: set[int] = set()
    for word in words.split(","):
        first, dash, last = (part.strip() for part in word.partition("-"))
        if not first.isdecimal() or (dash and not last.isdecimal()) or (dash and int(last) < int(first)):
            raise UserError(f"Notes {words!r}: found {word.strip()!r}. Give numbers of notes such as 3,5-9.")
        ids |= set(range(int(first), int(last or first) + 1))
    return frozenset(ids)


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
