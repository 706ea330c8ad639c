"""The third as one place: how far it is flattened, how blue it is, to which side of the target it leans.

Conventions: cents are above the root, in any octave. Away from the degree every measure is 0.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from bridge.base.units import CENTS_PER_OCTAVE, clip
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.slots import Scale
from bridge.quantise.zones import EQUAL_THIRD, ThirdSettings, ZoneSettings

#: How far the degree goes on below its minor and above its straight pitch, cents.
_BELOW_MINOR = 75.0
_ABOVE_STRAIGHT = 40.0
#: How far above the straight third a note may begin and still be a third, cents.
_BEGUN_ABOVE = 30.0


@dataclass(frozen=True, slots=True)
class ThirdZone:
    """Where a blue third lies, all in cents above the root: minor < zone_low <= target <= zone_high < straight."""

    straight: float
    minor: float
    target: float
    zone_low: float
    zone_high: float


def blue_zones(settings: QuantiseSettings) -> Mapping[str, ThirdZone]:
    """The zone of each degree that can be blue, by the degree as it is spelled (``b3``, ``3`` ...)."""
    zones = {degree: _zone(settings.third) for degree in ("b3", "3")}
    if "5" in settings.also_blue:
        zones |= {degree: _zone(settings.fifth) for degree in ("b5", "5")}
    if "7" in settings.also_blue:
        zones |= {degree: _zone(settings.seventh) for degree in ("b7", "7")}
    return zones


def with_third(scale: Scale, straight: float) -> Scale:
    """The scale with its third wide enough to hold a straight third of ``straight`` cents, 30 above it included.

    The third grows at the cost of the degree above it, up to that degree's anchor at most. Scales whose third is wide
    enough, or that have none, come back as they are.
    """
    place = next((place for place, slot in enumerate(scale.slots) if slot.degree == "3"), None)
    if place is None or len(scale.slots) == 1:
        return scale
    slots = list(scale.slots)
    above = (place + 1) % len(slots)
    top = slots[above].anchor + (CENTS_PER_OCTAVE if above == 0 else 0.0)
    wider = min(straight + _BEGUN_ABOVE, top) - slots[place].high
    if wider <= 0.0:
        return scale
    third, next_one = slots[place], slots[above]
    slots[place] = replace(third, high=third.high + wider, stay_high=third.stay_high + wider)
    slots[above] = replace(next_one, low=next_one.low + wider, stay_low=next_one.stay_low + wider)
    return Scale(scale.name, tuple(slots))


def depth(cents: float, zone: ThirdZone) -> float:
    """How far the third is flattened: 0 at the straight third, 1 at the minor, beyond 0..1 outside them."""
    at = _place(cents, zone)
    return 0.0 if at is None else (zone.straight - at) / (zone.straight - zone.minor)


def blueness(cents: float, zone: ThirdZone) -> float:
    """How blue, 0..1: 1 inside the zone, 0 from the straight third up, 0.5 at the minor and then down to 0.

    The slopes are raised cosines.
    """
    at = _place(cents, zone)
    if at is None:
        return 0.0
    if at < zone.zone_low:
        away = 0.5 * (zone.zone_low - at) / (zone.zone_low - zone.minor)
    elif at > zone.zone_high:
        away = (at - zone.zone_high) / (zone.straight - zone.zone_high)
    else:
        return 1.0
    return 0.5 + 0.5 * math.cos(math.pi * away) if away < 1.0 else 0.0


def lean(cents: float, zone: ThirdZone) -> float:
    """Which side of the target, linearly: +1 at the straight third, 0 at the target, -1 at the minor, clipped."""
    at = _place(cents, zone)
    if at is None:
        return 0.0
    span = zone.straight - zone.target if at > zone.target else zone.target - zone.minor
    return clip((at - zone.target) / span, -1.0, 1.0)


def _place(cents: float, zone: ThirdZone) -> float | None:
    """``cents`` brought into the zone's octave, None when it is not on the degree."""
    low = zone.minor - _BELOW_MINOR
    at = low + (cents - low) % CENTS_PER_OCTAVE
    return at if at <= zone.straight + _ABOVE_STRAIGHT else None


def _zone(settings: ZoneSettings | ThirdSettings) -> ThirdZone:
    straight = EQUAL_THIRD if settings.straight == "harp" else settings.straight
    return ThirdZone(straight, settings.minor, settings.target, settings.zone_low, settings.zone_high)
