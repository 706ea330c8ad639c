"""From a pitch back to the hole and the air it most likely came from."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.base.units import cents_between
from bridge.harp.bends import Air, Kind, overbends
from bridge.harp.harp import Harp, Reed

#: A pitch this near a straight reed, cents, is taken as that reed.
_STRAIGHT_REACH = 50.0
#: A bend ends a semitone above the hole's lower reed, some tens of cents further at most (common practice, no source).
_BEND_FLOOR = 100.0 - 40.0


@dataclass(frozen=True, slots=True)
class ReedReading:
    """Where a pitch most likely came from.

    ``bend_cents`` counts from the reed's straight pitch (negative = bent down), for an overblow or overdraw from the
    equal-tempered note it aims at. ``ambiguous`` means that another hole has the same straight note.
    """

    hole: int
    air: Air
    bend_cents: float
    kind: Kind
    ambiguous: bool


def likely_reed(harp: Harp, hz: float) -> ReedReading:
    """The hole and air that ``hz`` (above 0) most likely comes from.

    The nearest straight reed within a quarter tone comes first; of two with one note the drawn one, which is the
    stronger habit. Then the bend that needs the least bending, then overblow and overdraw, then whatever is nearest.
    """
    cents = cents_between(hz, harp.hole1_hz)
    nearest = min(harp.reeds, key=lambda reed: (abs(cents - reed.cents), reed.air == "blow"))
    if abs(cents - nearest.cents) <= _STRAIGHT_REACH:
        return _straight(harp, nearest, cents)
    return _bend(harp, cents) or _overbend(harp, cents) or _straight(harp, nearest, cents)


def _straight(harp: Harp, reed: Reed, cents: float) -> ReedReading:
    within = sum(abs(other.cents - reed.cents) <= _STRAIGHT_REACH for other in harp.reeds)
    return ReedReading(reed.hole, reed.air, cents - reed.cents, "straight", ambiguous=within > 1)


def _bend(harp: Harp, cents: float) -> ReedReading | None:
    holes = zip(harp.reeds[::2], harp.reeds[1::2], strict=True)
    pairs = [(max(pair, key=_cents), min(pair, key=_cents)) for pair in holes]
    reached = [high for high, low in pairs if low.cents + _BEND_FLOOR <= cents < high.cents]
    if not reached:
        return None
    reed = min(reached, key=_cents)
    return ReedReading(reed.hole, reed.air, cents - reed.cents, "bend", ambiguous=False)


def _overbend(harp: Harp, cents: float) -> ReedReading | None:
    for sound in overbends(harp.layout):
        bend_cents = cents - 100.0 * sound.semitones
        if abs(bend_cents) <= _STRAIGHT_REACH:
            return ReedReading(sound.hole, sound.air, bend_cents, sound.kind, ambiguous=False)
    return None


def _cents(reed: Reed) -> float:
    return reed.cents
