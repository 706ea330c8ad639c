"""Bars of marks: what stands in a score one after the other, notes tied over bar lines, rests between, beams, tuplets.

Every bar is complete. Grace notes stand before the note that they lead to, or after the one that they end.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
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


def bars(heads: Iterable[Head], quarters_in_bar: int) -> Iterator[Bar]:
    """The bars that hold ``heads``, in order, from bar 1 or the bar of the first head; at least one.

    Each comes as soon as it is known as a whole, so that no more than a few of them are held.
    """
    bar = TICKS * quarters_in_bar
    beats = _Beats()
    filled: _Filled | None = None
    for number, (head, goes_on) in enumerate(_with_whole_beats(heads, beats)):
        filled = filled or _Filled(bar, min(0, head.start) // bar * bar)
        triple = beats.tuplets()
        yield from filled.rested(head.start, triple)
        filled.put(_marks(head, number, bar, triple, goes_on=goes_on), head)
        beats.forget(head.end)
    filled = filled or _Filled(bar, 0)
    yield from filled.finished(beats.tuplets())


def _with_whole_beats(heads: Iterable[Head], beats: _Beats) -> Iterator[tuple[Head, bool]]:
    """Each head, and whether it goes on, as soon as ``beats`` knows all that is in the beats until its end."""
    waiting: deque[Head] = deque()
    for head in heads:
        beats.add(head)
        waiting.append(head)
        while waiting[0].end <= head.start // TICKS * TICKS and len(waiting) > 1:
            yield waiting.popleft(), waiting[0].joined
    while waiting:
        yield waiting.popleft(), bool(waiting) and waiting[0].joined


class _Beats:
    """The ticks within beats at which something begins or ends."""

    def __init__(self) -> None:
        self._places: dict[int, set[int]] = {}

    def add(self, head: Head) -> None:
        """Take where a head begins and ends."""
        for tick in (head.start, head.end):
            self._places.setdefault(tick // TICKS, set()).add(tick % TICKS)

    def forget(self, tick: int) -> None:
        """Nothing in a beat before the one of ``tick`` is asked for any more."""
        for passed in [beat for beat in self._places if beat < tick // TICKS]:
            del self._places[passed]

    def tuplets(self) -> dict[int, Tuplet]:
        """Those that are tuplets, as far as is known of them."""
        return tuplets(self._places)


class _Filled:
    """The bars that are being filled, from the tick ``start`` on, where a bar of ``bar`` ticks begins."""

    def __init__(self, bar: int, start: int) -> None:
        self._bar = bar
        self._number = start // bar
        self._at = start
        self._marks: dict[int, list[Mark]] = defaultdict(list)

    def rested(self, tick: int, triple: Mapping[int, Tuplet]) -> Iterator[Bar]:
        """Rest until ``tick``; the bars come that nothing can stand in any more. ``triple`` are beats with tuplets."""
        while True:
            # What stands after a note stands before its end, which may be where a bar ends.
            yield from self._taken((self._at - 1) // self._bar)
            if self._at >= tick:
                return
            end = min(tick, (self._at // self._bar + 1) * self._bar)
            for value in values(self._at, end, self._bar, triple, rest=True):
                self._put(Mark(None, value), value.start)
            self._at = end

    def put(self, marks: Iterable[Mark], head: Head) -> None:
        """Take the marks of a head."""
        for mark in marks:
            # A grace note at the end of what it goes on from stands in the bar of that, and not beyond it.
            self._put(mark, head.start - head.after if mark.value is None else mark.value.start)
        self._at = head.end

    def finished(self, triple: Mapping[int, Tuplet]) -> Iterator[Bar]:
        """The bars that are left, the last one filled up, when no head is to come."""
        last = (max(1, self._at) - 1) // self._bar
        # A grace note that nothing comes after begins no bar.
        self._marks[last] += self._marks.pop(last + 1, [])
        yield from self.rested((last + 1) * self._bar, triple)
        yield from self._taken(last + 1)

    def _put(self, mark: Mark, tick: int) -> None:
        self._marks[tick // self._bar].append(mark)

    def _taken(self, until: int) -> Iterator[Bar]:
        """The bars before the one of this number, from 0, in order."""
        while self._number < until:
            marks = self._marks.pop(self._number, [])
            _mark_tuplets(marks)
            _beam(marks)
            self._number += 1
            yield Bar(self._number, marks)


def _marks(head: Head, number: int, bar: int, triple: Mapping[int, Tuplet], *, goes_on: bool) -> list[Mark]:
    """The marks of the head with this number; ``triple`` are the beats that are tuplets, ``bar`` is a bar in ticks."""
    pieces: Sequence[Value | None] = [None] if head.grace else values(head.start, head.end, bar, triple)
    marks = [Mark(head, piece, piece is pieces[0], piece is pieces[-1]) for piece in pieces]
    _join(marks, number, joined=head.joined, goes_on=goes_on)
    return marks


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
