"""Bars of marks: what stands in a score one after the other, notes tied over bar lines, rests between, beams, tuplets.

Every bar is complete. Grace notes stand before the note that they lead to, or after the one that they end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from bridge.takes.durations import Tuplet, Value, tuplets, values
from bridge.takes.score_grid import TICKS
from bridge.takes.score_heads import Head

#: How many beams a type has.
_BEAMS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}


@dataclass(slots=True)
class Mark:
    """One ``<note>``: of a head, or a rest (head None); ``value`` is None for a grace note.

    ``first`` and ``last`` say whether it begins and ends its head, so ties go on where they do not. ``slides_in`` and
    ``slides_out`` hold the number of the slide that ends or begins here, 0 for none.
    """

    head: Head | None
    value: Value | None
    first: bool = True
    last: bool = True
    slides_in: int = 0
    slides_out: int = 0
    slur: tuple[str, ...] = ()
    beams: list[str] = field(default_factory=list)
    tuplet: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its number, 1 for the first of the tempo, and its marks."""

    number: int
    marks: list[Mark]


def bars(heads: Sequence[Head], quarters_in_bar: int) -> list[Bar]:
    """The bars that hold ``heads``, in order, from bar 1 or the bar of the first head; at least one."""
    bar = TICKS * quarters_in_bar
    start = min(0, min((head.start for head in heads), default=0)) // bar * bar
    end = max(1, max((head.end for head in heads), default=0), start + 1)
    end = -(-end // bar) * bar
    triple = tuplets(_places(heads))
    found = [Bar(at // bar + 1, []) for at in range(start, end, bar)]

    def put(mark: Mark, tick: int) -> None:
        found[min(tick, end - 1) // bar - start // bar].marks.append(mark)

    at = start
    for number, head in enumerate(heads):
        if head.start > at:
            _put_rests(at, head.start, bar, triple, found, start)
        at = head.end
        goes_on = number + 1 < len(heads) and heads[number + 1].joined
        pieces: Sequence[Value | None] = [None] if head.grace else values(head.start, head.end, bar, triple)
        marks = [Mark(head, piece, piece is pieces[0], piece is pieces[-1]) for piece in pieces]
        _join(marks, number, joined=head.joined, goes_on=goes_on)
        for mark in marks:
            # A grace note at the end of what it goes on from stands in the bar of that, and not beyond it.
            tick = head.start - head.after if mark.value is None else mark.value.start
            put(mark, tick)
    if at < end:
        _put_rests(at, end, bar, triple, found, start)
    for one in found:
        _mark_tuplets(one.marks)
        _beam(one.marks)
    return found


def _places(heads: Sequence[Head]) -> dict[int, set[int]]:
    """The ticks within each beat at which something begins or ends."""
    found: dict[int, set[int]] = {}
    for head in heads:
        for tick in (head.start, head.end):
            found.setdefault(tick // TICKS, set()).add(tick % TICKS)
    return found


def _put_rests(start: int, end: int, bar: int, triple: Mapping[int, Tuplet], found: list[Bar], first: int) -> None:
    for value in values(start, end, bar, triple, rest=True):
        found[(value.start - first) // bar].marks.append(Mark(None, value))


def _join(marks: Sequence[Mark], number: int, *, joined: bool, goes_on: bool) -> None:
    """Slides in and out of a head, with one slur over all that is one note."""
    # One number may not end and begin at the same note.
    if joined:
        marks[0].slides_in = 1 + number % 2
    if goes_on:
        marks[-1].slides_out = 1 + (number + 1) % 2
    if goes_on and not joined:
        marks[0].slur = ("start",)
    if joined and not goes_on:
        marks[-1].slur = ("stop",)


def _mark_tuplets(marks: Sequence[Mark]) -> None:
    """Where the bracket of each tuplet begins and ends: it fills one beat."""
    for mark in marks:
        value = mark.value
        if value is not None and value.tuplet is not None:
            starts = ("start",) if value.start % TICKS == 0 else ()
            stops = ("stop",) if (value.start + value.ticks) % TICKS == 0 else ()
            mark.tuplet = (*starts, *stops)


def _beam(marks: Sequence[Mark]) -> None:
    """Beams over what is shorter than a quarter within one beat; not over rests, nor grace notes.

    A beam over a grace note would be right, but one of the renderers that were looked at (Verovio 6.4) fails at it.
    """
    for _, group in groupby(marks, key=lambda mark: _beat_if_short(mark) or id(mark)):
        _beam_group(list(group))


def _beat_if_short(mark: Mark) -> tuple[int] | None:
    """The beat of a note that is short enough for beams, None for all else."""
    short = mark.head is not None and mark.value is not None and mark.value.type in _BEAMS
    return (mark.value.start // TICKS,) if mark.value is not None and short else None


def _beam_group(group: Sequence[Mark]) -> None:
    if len(group) < 2:
        return
    counts = [_BEAMS[mark.value.type] for mark in group if mark.value is not None and mark.value.type is not None]
    for at, mark in enumerate(group):
        for level in range(1, counts[at] + 1):
            before = at > 0 and counts[at - 1] >= level
            after = at + 1 < len(group) and counts[at + 1] >= level
            if before or after:
                mark.beams.append("continue" if before and after else "end" if before else "begin")
            else:
                mark.beams.append("forward hook" if at == 0 else "backward hook")
