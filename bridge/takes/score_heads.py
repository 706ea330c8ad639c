"""Written notes: every place of every note with its pitch, its tab and its span on the grid.

A place that has no room on the grid is a grace note, and so is a note that shares its place with the next one.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from bridge.harp.tab import Convention
from bridge.takes.edited import EditedNote, Tempo
from bridge.takes.score_grid import Grid
from bridge.takes.score_pitch import Pitch, Speller
from bridge.takes.score_places import Dwelling, places
from bridge.takes.score_tab import moved_tab, tab_of

#: What is silent for less than this, or than a sixteenth, is how notes are tongued apart and no rest.
_REST_S, _REST_QUARTERS = 0.15, 0.25


@dataclass(frozen=True, slots=True)
class Head:
    """One written note: ``start`` and ``end`` in ticks from bar 1, the same for a grace note.

    ``joined`` says that it goes on from the head before it, by a slide; ``after`` that it is a grace note at the end
    of what it goes on from.
    """

    note: EditedNote
    pitch: Pitch
    bend_cents: float
    tab: str
    joined: bool
    start: int = 0
    end: int = 0
    after: bool = False

    @property
    def grace(self) -> bool:
        """Whether it takes no time of its own."""
        return self.start == self.end


@dataclass(frozen=True, slots=True)
class _Sung:
    """A note, cut where the next one begins, and its places."""

    note: EditedNote
    start_s: float
    end_s: float
    rests: bool
    places: tuple[Dwelling, ...]

    def inner_s(self) -> list[float]:
        """Where it moves on, in seconds of the take."""
        return [self.start_s + place.start_s for place in self.places[1:]]

    def moves_s(self) -> list[float]:
        """Where it moves on or ends, but for an end at which the next one begins, in seconds of the take."""
        return [*self.inner_s(), *([self.end_s] if self.rests else [])]


def heads(
    notes: Iterable[EditedNote],
    spellers: Sequence[tuple[float, Speller]],
    tempo: Tempo,
    *,
    slide_cents: float,
    tab: Convention,
    measured: bool,
) -> Iterator[Head]:
    """The heads of ``notes`` in order. ``spellers`` are those of each harp and the time it was taken up, in order."""
    sung = _sung(sorted(notes, key=lambda note: note.start_s), tempo, slide_cents)
    grid = Grid(tempo, measured=measured)
    for at, (one, next_s) in enumerate(_divided(sung, grid)):
        start = grid.tick(one.start_s)
        after = None if next_s is None else grid.tick(next_s)
        wanted = grid.tick(one.end_s) if one.rests or after is None else after
        end = max(wanted, start + grid.cell(one.start_s))
        end = end if after is None else min(end, after)
        speller = next(spelled for since_s, spelled in reversed(spellers) if since_s <= one.start_s or not at)
        inner = [grid.tick(time_s) for time_s in one.inner_s()]
        yield from _placed(one, _written(one, speller, tab), start, end, inner)
        grid.forget(one.start_s)


def _divided(sung: Iterable[_Sung], grid: Grid) -> Iterator[tuple[_Sung, float | None]]:
    """Each note with the second in which the next one begins, as soon as ``grid`` has divided the beats until there."""
    waiting: deque[_Sung] = deque()
    for one in sung:
        grid.add(one.start_s, one.moves_s())
        waiting.append(one)
        while len(waiting) > 1 and grid.is_divided(waiting[1].start_s):
            yield waiting.popleft(), waiting[0].start_s
    grid.finish()
    while waiting:
        yield waiting.popleft(), waiting[0].start_s if waiting else None


def _sung(notes: Iterable[EditedNote], tempo: Tempo, slide_cents: float) -> Iterator[_Sung]:
    rest_s = max(_REST_S, _REST_QUARTERS * tempo.quarter_s)
    for note, after in pairwise([*notes, None]):
        if note is None:
            break
        end_s = note.end_s if after is None else min(note.end_s, after.start_s)
        rests = after is None or after.start_s - end_s >= rest_s
        short = replace(note, length_s=max(0.0, end_s - note.start_s))
        yield _Sung(note, note.start_s, end_s, rests, tuple(places(short, slide_cents)))


def _written(sung: _Sung, speller: Speller, tab: Convention) -> list[tuple[Head, int]]:
    """The heads of a note and the number of the place each begins with; places of one pitch share a head."""
    note = sung.note
    found: list[tuple[Head, int]] = []
    for number, place in enumerate(sung.places):
        cents = 100.0 * note.midi_note + place.bend_cents
        pitch = speller.pitch(cents)
        if found and found[-1][0].pitch == pitch:
            continue
        # A note that stays where it is keeps the reading that the table gives.
        word = moved_tab(note, tab, cents, speller.harp) if len(sung.places) > 1 else tab_of(note, tab)
        found.append((Head(note, pitch, place.bend_cents, word, bool(found)), number))
    return found


def _placed(sung: _Sung, written: Sequence[tuple[Head, int]], start: int, end: int, inner: Sequence[int]) -> list[Head]:
    """The heads between ``start`` and ``end``; without any room only the longest place is left, as a grace note."""
    if start == end:
        head, _ = max(written, key=lambda one: sung.places[one[1]].length_s)
        return [replace(head, joined=False, start=start, end=end)]
    borders = [start, *(min(max(inner[number - 1], start), end) for _, number in written[1:]), end]
    return [
        replace(head, start=first, end=last, after=first == end)
        for (head, _), (first, last) in zip(written, pairwise(borders), strict=True)
    ]
