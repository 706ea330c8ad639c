"""Where a note stays and where it moves: the pitches that a score writes for one note, joined by slides.

A note is one breath on one reed, but a score writes pitches. A note that moves by more than a set amount and does not
just swing around where it is (vibrato) has several places; what a place dwells at is written, and the way from one to
the next is a slide. What passes faster than an ear makes a pitch of it is none: a reed that comes up to its pitch, and
what is left of a note whose breath goes.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bridge.takes.edited import EditedNote

_STEP_S = 0.005
_MOST_STEPS = 20_000
#: Half a swing shorter than this is vibrato, which has 4 to 8 swings a second (measured for voice, strings and flutes).
_HALF_SWING_S = 0.14
#: A swing of vibrato is at most so many times as wide as the ones beside it; a wider one leads somewhere else.
_UNEVEN = 1.5
#: A recorded reed is up to 140 cents low while it comes up to its pitch, below 60 from here on (measured, all reeds).
_SPEAKS_S = 0.035
#: A place at the edge of a note that is left sooner is no pitch: the lowest reeds take so long to come up to theirs.
_LEAST_EDGE_S = 0.055
#: A place held shorter than this says where it is by its outermost point.
_LEAST_HOLD_S = 0.04

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Dwelling:
    """A pitch within a note: from and to in seconds from its start, and ``bend_cents`` from its note number."""

    start_s: float
    end_s: float
    bend_cents: float

    @property
    def length_s(self) -> float:
        """How long it stays there, seconds."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class _Move:
    """From one place to the next: when it begins, is half done, and is done, in seconds; how far from and to."""

    begin_s: float
    half_s: float
    done_s: float
    from_cents: float
    to_cents: float


def places(note: EditedNote, slide_cents: float) -> list[Dwelling]:
    """The places of ``note`` in order, at least one; between two of them it moves by more than ``slide_cents``."""
    if note.length_s < _STEP_S:
        return [Dwelling(0.0, note.length_s, note.points[0].bend_cents)]
    times = _times(note.length_s)
    spoken = np.maximum(times, min(_SPEAKS_S, note.length_s / 4.0))
    cents = np.interp(spoken, [point.at_s for point in note.points], [point.bend_cents for point in note.points])
    moves = _without_edges(_moves(times, cents, slide_cents), note.length_s)
    found = _between(moves, times, cents, note.length_s)
    while (near := _nearest_pair(found, slide_cents)) is not None:
        first, second = found[near], found[near + 1]
        found[near : near + 2] = [_dwelt(times, cents, first.start_s, second.end_s)]
    return found


def _times(length_s: float) -> _Floats:
    count = int(min(_MOST_STEPS, max(2.0, length_s / _STEP_S + 1.0)))
    return np.linspace(0.0, length_s, count)


def _moves(times: _Floats, cents: _Floats, least: float) -> list[_Move]:
    turns = _without_swings(_turns(cents, least), times, cents)
    return [_move(times, cents, start, end) for start, end in pairwise(turns)]


def _turns(cents: _Floats, least: float) -> list[int]:
    """The indices at which the pitch turns round, the first and last extreme included; each more than ``least`` off."""
    low = high = 0
    turns: list[int] = []
    rising = False
    for index, value in enumerate(cents.tolist()):
        if value > cents[high]:
            high = index
        if value < cents[low]:
            low = index
        if (not turns or rising) and cents[high] - value > least:
            turns.append(high)
            rising, low = False, index
        elif (not turns or not rising) and value - cents[low] > least:
            turns.append(low)
            rising, high = True, index
    return [*turns, high if rising else low] if turns else []


def _without_swings(turns: list[int], times: _Floats, cents: _Floats) -> list[int]:
    """What is left when swings to and fro that are as quick and even as vibrato's are taken out, the smallest first."""
    left = list(turns)
    swing = 0.0
    while len(left) > 3:
        sizes, spans = np.abs(np.diff(cents[left])), np.diff(times[left])
        even = sizes[1:-1] <= _UNEVEN * np.minimum(sizes[:-2], sizes[2:])
        inner = np.where(even & (spans[1:-1] < _HALF_SWING_S), sizes[1:-1], np.inf)
        smallest = int(np.argmin(inner))
        if not np.isfinite(inner[smallest]):
            break
        swing = max(swing, float(inner[smallest]))
        del left[smallest + 1 : smallest + 3]
    # The first and the last swing have a neighbour on one side only.
    while len(left) > 1 and abs(cents[left[1]] - cents[left[0]]) <= _UNEVEN * swing:
        del left[0]
    while len(left) > 1 and abs(cents[left[-1]] - cents[left[-2]]) <= _UNEVEN * swing:
        del left[-1]
    to_and_fro = len(left) == 3 and bool(np.max(np.diff(times[left])) < _HALF_SWING_S)
    return [] if to_and_fro else left


def _move(times: _Floats, cents: _Floats, start: int, end: int) -> _Move:
    """The move between two turns; begin and end are where its middle half, drawn on at both ends, reaches them."""
    way = (cents[start : end + 1] - cents[start]) / (cents[end] - cents[start])
    late = int(np.argmax(way >= 0.75))
    early = int(np.flatnonzero(way[: late + 1] <= 0.25)[-1])
    half = int(np.flatnonzero(way[: late + 1] <= 0.5)[-1])
    on_s = times[start + late] - times[start + early]
    begin_s, done_s = times[start + early] - on_s / 2.0, times[start + late] + on_s / 2.0
    return _Move(
        max(float(begin_s), float(times[start])),
        float(times[start + half]),
        min(float(done_s), float(times[end])),
        float(cents[start]),
        float(cents[end]),
    )


def _without_edges(moves: list[_Move], length_s: float) -> list[_Move]:
    """The moves without one at the very beginning or end that leaves no time for a pitch outside it."""
    left = moves
    while left and (left[0].half_s + left[0].done_s) / 2.0 < _LEAST_EDGE_S:
        left = left[1:]
    while left and length_s - (left[-1].begin_s + left[-1].half_s) / 2.0 < _LEAST_EDGE_S:
        left = left[:-1]
    return left


def _between(moves: list[_Move], times: _Floats, cents: _Floats, length_s: float) -> list[Dwelling]:
    """The places before, between and after the moves."""
    found: list[Dwelling] = []
    for at in range(len(moves) + 1):
        before = moves[at - 1] if at else None
        after = moves[at] if at < len(moves) else None
        start_s, end_s = before.half_s if before else 0.0, after.half_s if after else length_s
        held_s = before.done_s if before else 0.0, after.begin_s if after else length_s
        if held_s[1] - held_s[0] >= _LEAST_HOLD_S or not moves:
            level = _dwelt(times, cents, *held_s).bend_cents
        else:
            level = before.to_cents if before else moves[at].from_cents
        found.append(Dwelling(start_s, end_s, level))
    return found


def _dwelt(times: _Floats, cents: _Floats, start_s: float, end_s: float) -> Dwelling:
    inside = cents[(times >= start_s) & (times <= end_s)]
    return Dwelling(start_s, end_s, float(np.median(inside if len(inside) else cents)))


def _nearest_pair(found: list[Dwelling], slide_cents: float) -> int | None:
    """The first of the two neighbours that lie nearest to one another, if too near for a slide."""
    apart = [abs(second.bend_cents - first.bend_cents) for first, second in pairwise(found)]
    return int(np.argmin(apart)) if apart and min(apart) <= slide_cents else None
