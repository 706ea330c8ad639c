"""From a pitch back to the hole and the air it most likely came from."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from bridge.base.units import cents_between
from bridge.harp.bends import Air, Kind, overbends
from bridge.harp.harp import Harp, Reed

#: A pitch this near a straight reed, cents, is taken as that reed; reeds this near one another have the same note.
_STRAIGHT_REACH = 50.0
#: A bend ends a semitone above the hole's lower reed, some tens of cents further at most (common practice, no source).
_BEND_FLOOR = 100.0 - 40.0
#: A reed that is not bent may speak this far below its pitch, cents: up to 70 on a sampled harmonica, measured.
SAG = 85.0


@dataclass(frozen=True, slots=True)
class ReedReading:
    """Where a pitch most likely came from.

    ``bend_cents`` counts from the reed's straight pitch (negative = bent down), for an overblow or overdraw from the
    equal-tempered note it aims at. ``rival`` is the likeliest of the other reeds that give the same note just as well,
    whatever spoke against it; None where there is none.
    """

    hole: int
    air: Air
    bend_cents: float
    kind: Kind
    rival: ReedReading | None = None

    @property
    def ambiguous(self) -> bool:
        """Whether another reed gives the same note just as well."""
        return self.rival is not None


def is_straight(bend_cents: float) -> bool:
    """Whether a reed so far from its pitch still counts as straight: up to a quarter tone, to the whole cent.

    A third that is held exactly a quarter tone down lies on the edge; it is told the same wherever it is told.
    """
    return abs(round(bend_cents)) <= _STRAIGHT_REACH


def bends_down(harp: Harp, reed: Reed) -> bool:
    """Whether the reed is the higher one of its hole, the one that bends."""
    blow, draw = harp.reeds[2 * reed.hole - 2 : 2 * reed.hole]
    other = draw if reed.air == "blow" else blow
    return reed.cents > other.cents


def nearest_step(cents: float, step: float) -> int:
    """How many steps of so many cents lie nearest to ``cents``, to the whole cent; half way it is the fewer, down to 0.

    Both are 0 or more.
    """
    return max(0, math.ceil(round(cents) / step - 0.5))


def likely_reed(harp: Harp, hz: float, last: ReedReading | None = None, lowest_hz: float | None = None) -> ReedReading:
    """The hole and air that ``hz`` (above 0) most likely comes from; ``last`` is the reading of the note before it.

    ``lowest_hz`` is how low the note went in one breath, as when it was scooped into or let go from a bend: of the
    reeds that give ``hz`` only those count that go as low.

    The nearest straight reed within a quarter tone comes first, then bends, then overblow and overdraw, then whatever
    is nearest. Of several that give the note it is the one with the breath of the last note, in the hole nearest to
    it; without a last note the drawn one, which is the stronger habit, and of two bends the one that needs less
    (common practice, no source).
    """
    cents = cents_between(hz, harp.hole1_hz)
    nearest = min(harp.reeds, key=lambda reed: abs(round(cents - reed.cents)))
    same_note = [
        _reading(reed, cents, "straight") for reed in harp.reeds if abs(reed.cents - nearest.cents) <= _STRAIGHT_REACH
    ]
    straight = same_note if is_straight(cents - nearest.cents) else []
    bent = _bends(harp, cents)
    over = [] if straight or bent else _overbends(harp, cents)
    likely = straight or bent or over or same_note
    ways = [*likely, *(reading for reading in bent if reading not in likely)]
    if lowest_hz is not None:
        lowest = cents_between(lowest_hz, harp.hole1_hz)
        ways = [way for way in ways if _lowest_cents(harp, way) <= lowest] or ways
    first, *others = sorted(ways, key=lambda way: (way not in likely, *_rank(way, last)))
    rivals = (other for other in others if (other.hole, other.air) != (first.hole, first.air))
    return replace(first, rival=next(rivals, None))


def _rank(reading: ReedReading, last: ReedReading | None) -> tuple[bool, int, bool, float]:
    """What speaks against a reading, the weightiest first."""
    turned, moved = (False, 0) if last is None else (reading.air != last.air, abs(reading.hole - last.hole))
    return turned, moved, reading.air == "blow", abs(reading.bend_cents)


def _reading(reed: Reed, cents: float, kind: Kind) -> ReedReading:
    return ReedReading(reed.hole, reed.air, cents - reed.cents, kind)


def _lowest_cents(harp: Harp, way: ReedReading) -> float:
    """How low the reed goes, cents above hole-1 blow."""
    blow, draw = harp.reeds[2 * way.hole - 2 : 2 * way.hole]
    reed, other = (blow, draw) if way.air == "blow" else (draw, blow)
    unbent = reed.cents - SAG
    return min(unbent, other.cents + _BEND_FLOOR) if other.cents < reed.cents else unbent


def _bends(harp: Harp, cents: float) -> list[ReedReading]:
    """Every reed that bends down to the pitch, one a hole at most."""
    holes = zip(harp.reeds[::2], harp.reeds[1::2], strict=True)
    pairs = [(max(pair, key=_cents), min(pair, key=_cents)) for pair in holes]
    return [
        _reading(high, cents, "bend")
        for high, low in pairs
        if round(cents - low.cents) >= _BEND_FLOOR and round(cents - high.cents) < 0
    ]


def _overbends(harp: Harp, cents: float) -> list[ReedReading]:
    """Every overblow and overdraw within reach of the pitch."""
    aims = [(sound, cents - 100.0 * sound.semitones) for sound in overbends(harp.layout)]
    return [ReedReading(sound.hole, sound.air, off, sound.kind) for sound, off in aims if is_straight(off)]


def _cents(reed: Reed) -> float:
    return reed.cents
