"""Notes moved in time: later, faster or slower, and onto the beats of a tempo with its swing.

Notes never overlap and never begin before 0; what is moved keeps its order, and lengths follow. Times come out in
the hundred-thousandths of a second that tables tell, so that what is written is what was made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from bridge.base.errors import UserError
from bridge.takes.edited import Breakpoint, EditedNote, Tempo

DECIMALS = 5
#: The shortest that a note can be in a table, seconds.
SHORTEST_S = 10.0**-DECIMALS
#: Where the second of two equal beats lies in their pair; 2/3 is the swing of triplets (common practice, no source).
STRAIGHT, MOST_SWING = 0.5, 0.75


@dataclass(frozen=True, slots=True)
class SwungBeats:
    """Beats of ``step_s`` seconds, one of them at ``at_s``, every second one swung.

    ``swing`` is where it lies in its pair: 0.5 is straight, 2/3 a triplet's swing.
    """

    step_s: float
    at_s: float = 0.0
    swing: float = STRAIGHT

    def __post_init__(self) -> None:
        if not (self.step_s > 0.0 and STRAIGHT <= self.swing <= MOST_SWING):
            raise UserError(f"A swing of {self.swing:g} cannot be: allowed is {STRAIGHT:g} to {MOST_SWING:g}.")

    def nearest(self, time_s: float) -> float:
        """The beat nearest to a time, never before 0."""
        return min(self._around(time_s), key=lambda beat_s: abs(beat_s - time_s))

    def _around(self, time_s: float) -> Iterator[float]:
        """Beats from before ``time_s`` to after it."""
        pair_s = 2.0 * self.step_s
        first = int((time_s - self.at_s) // pair_s) - 1
        for pair in count(first):
            for beat_s in (self.at_s + pair * pair_s, self.at_s + (pair + self.swing) * pair_s):
                if beat_s >= 0.0:
                    yield beat_s
                    if beat_s > time_s:
                        return


def swung_beats(tempo: Tempo, quarters: float, swing: float = STRAIGHT) -> SwungBeats:
    """The beats of a tempo, one every so many quarters, counted from bar 1."""
    return SwungBeats(quarters * tempo.quarter_s, tempo.bar_1_s, swing)


def quantised(notes: Sequence[EditedNote], beats: SwungBeats, strength: float) -> list[EditedNote]:
    """The notes, in order of time, with their starts moved ``strength`` (0..1) of the way to their beats.

    Of several notes that are nearest to the same beat the nearest goes there, and the others keep their place between
    it and the next one: a quick run stays a run. Lengths and rests are stretched along.
    """
    owners: dict[float, float] = {}
    for note in notes:
        beat_s = beats.nearest(note.start_s)
        held_s = owners.get(beat_s)
        if held_s is None or abs(note.start_s - beat_s) < abs(held_s - beat_s):
            owners[beat_s] = note.start_s
    places = sorted((start_s, start_s + strength * (beat_s - start_s)) for beat_s, start_s in owners.items())
    return warped(notes, _way_through(places))


def warped(notes: Sequence[EditedNote], move: Callable[[float], float]) -> list[EditedNote]:
    """The notes with each start and end where ``move``, which must rise, takes it; their curves are stretched along.

    A note that is left no time keeps the shortest there is.
    """
    moved: list[EditedNote] = []
    for note in notes:
        start_s, end_s = (round(move(time_s), DECIMALS) for time_s in (note.start_s, note.end_s))
        before_s = round(moved[-1].end_s, DECIMALS) if moved else 0.0
        start_s = max(start_s, before_s, 0.0)
        shortest_s = SHORTEST_S if note.length_s > 0.0 else 0.0
        moved.append(_placed(note, start_s, max(shortest_s, round(end_s - start_s, DECIMALS))))
    return moved


def shifted(notes: Sequence[EditedNote], by_s: float, more_id: int = 0) -> list[EditedNote]:
    """The notes so many seconds later, with numbers higher by ``more_id``."""
    return [replace(note, id=note.id + more_id, start_s=round(note.start_s + by_s, DECIMALS) + 0.0) for note in notes]


def at_speed(notes: Sequence[EditedNote], speed: float) -> list[EditedNote]:
    """The notes ``speed`` times as fast."""
    return warped(notes, lambda time_s: time_s / speed)


def _way_through(places: Sequence[tuple[float, float]]) -> Callable[[float], float]:
    """The rising way in time that takes each first time to its second; before and after the last all moves alike."""
    if not places:
        return lambda time_s: time_s
    if places[0][0] > 0.0:
        # The silence before the first note gives way, so that nothing falls before 0.
        places = [(0.0, 0.0), *places]
    before, after = (np.array(times) for times in zip(*places, strict=True))

    def move(time_s: float) -> float:
        if time_s >= before[-1]:
            return float(time_s + after[-1] - before[-1])
        return float(np.interp(time_s, before, after))

    return move


def _placed(note: EditedNote, start_s: float, length_s: float) -> EditedNote:
    """The note at another place and of another length, its curve stretched along."""
    if note.length_s in {length_s, 0.0}:
        return replace(note, start_s=start_s)
    points: list[Breakpoint] = []
    for point in note.points:
        at_s = min(length_s, round(point.at_s * length_s / note.length_s, DECIMALS))
        if not points or at_s > points[-1].at_s:
            points.append(replace(point, at_s=at_s))
    return replace(note, start_s=start_s, length_s=length_s, points=points)
