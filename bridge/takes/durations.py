"""Note values: a span of a bar as the notes and rests that write it, tied where one is not enough.

The bar must be readable: nothing hides a beat. What begins on a beat may last several; what begins within one lasts to
its end at most, and is tied on (common practice of engraving, no source). A beat divided by three is a tuplet of its
own: 3 in the time of 2 eighths, 6 in the time of 4 sixteenths, 12 in the time of 8 thirty-seconds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.takes.score_grid import TICKS

#: Ticks, type and dots of plain values, longest first.
_VALUES = (
    *((192, "whole", 0), (144, "half", 1), (96, "half", 0), (72, "quarter", 1), (48, "quarter", 0)),
    *((36, "eighth", 1), (24, "eighth", 0), (18, "16th", 1), (12, "16th", 0), (9, "32nd", 1), (6, "32nd", 0)),
    (3, "64th", 0),
)
#: Of a tuplet: how many, in the time of how many, of which type.
_TUPLETS = {3: (3, 2, "eighth"), 6: (6, 4, "16th"), 12: (12, 8, "32nd")}


@dataclass(frozen=True, slots=True)
class Tuplet:
    """``actual`` notes in the time of ``normal`` ones, of the type ``of``."""

    actual: int
    normal: int
    of: str


@dataclass(frozen=True, slots=True)
class Value:
    """One note value: where it begins and how long it lasts, in ticks of the score, and how it is written.

    ``type`` is None for a rest of a whole bar.
    """

    start: int
    ticks: int
    type: str | None
    dots: int = 0
    tuplet: Tuplet | None = None


def tuplets(places: Mapping[int, set[int]]) -> dict[int, Tuplet]:
    """The beats that are tuplets, from the ticks within each beat (from 0) at which something begins or ends."""
    found = {}
    for beat, ticks in places.items():
        if any(tick % _VALUES[-1][0] for tick in ticks):
            division = next(d for d in _TUPLETS if not any(tick % (TICKS // d) for tick in ticks))
            found[beat] = Tuplet(*_TUPLETS[division])
    return found


def values(start: int, end: int, bar: int, triple: Mapping[int, Tuplet], *, rest: bool = False) -> list[Value]:
    """The values that fill ``start`` to ``end``, ticks from bar 1, both on the grid; ``bar`` is a bar in ticks.

    ``triple`` are the beats that are tuplets.
    """
    found = []
    while start < end:
        beat, bar_end = start // TICKS, (start // bar + 1) * bar
        if rest and start % bar == 0 and end >= bar_end:
            found.append(Value(start, bar, None))
        elif beat in triple:
            found.append(_in_tuplet(start, min(end, (beat + 1) * TICKS), triple[beat]))
        else:
            free = next((b for b in range(beat, bar_end // TICKS) if b in triple), bar_end // TICKS) * TICKS
            found.append(_plain(start, min(end, free), bar, rest=rest))
        start += found[-1].ticks
    return found


def _plain(start: int, end: int, bar: int, *, rest: bool) -> Value:
    """The longest value that may begin at ``start``."""
    for ticks, kind, dots in _VALUES:
        if ticks <= end - start and _may_stand(start, ticks, dots, bar, rest=rest):
            return Value(start, ticks, kind, dots)
    message = f"no value from {start} to {end}"
    raise ValueError(message)


def _may_stand(start: int, ticks: int, dots: int, bar: int, *, rest: bool) -> bool:
    """Whether a value that begins here hides no beat; rests have no dots and stand only where they are expected."""
    if rest:
        return not dots and start % bar % ticks == 0
    if ticks >= TICKS:
        return start % TICKS == 0
    # Within its beat: a plain value from any of its halves on, so that a syncopated one needs no tie.
    base = ticks * 2 // 3 if dots else ticks
    return start % (base // 2 or 1) == 0 and start % TICKS + ticks <= TICKS


def _in_tuplet(start: int, end: int, tuplet: Tuplet) -> Value:
    for nominal, kind, dots in _VALUES:
        ticks, odd = divmod(nominal * tuplet.normal, tuplet.actual)
        if not odd and ticks <= end - start:
            return Value(start, ticks, kind, dots, tuplet)
    message = f"no value of a tuplet from {start} to {end}"
    raise ValueError(message)
