"""The zones of the map of the third: their names and edges, for the board's page, its words and the pages by mail."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.quantise.third import ThirdZone

#: How near counts as being at a line, cents.
AT_LINE = 8.0
#: The map of the board shows this much below the minor and above the straight third, cents.
BELOW_MINOR, ABOVE_STRAIGHT = 60.0, 45.0


@dataclass(frozen=True, slots=True)
class NamedZone:
    """One zone: its name, its surface, and from where to where it reaches, cents above the root, ``low`` < ``high``."""

    name: str
    surface: str
    low: float
    high: float


def zones_of(zone: ThirdZone, low: float | None = None, high: float | None = None) -> tuple[NamedZone, ...]:
    """The zones from ``low`` to ``high`` cents, by default those of the board's map, from low to high without a gap."""
    minor_top = min(zone.minor + AT_LINE, zone.zone_low)
    straight_bottom = max(zone.straight - AT_LINE, zone.zone_high)
    edges = (
        zone.minor - BELOW_MINOR if low is None else low,
        *(zone.minor - AT_LINE, minor_top, zone.zone_low, zone.zone_high, straight_bottom, zone.straight + AT_LINE),
        zone.straight + ABOVE_STRAIGHT if high is None else high,
    )
    named = (
        ("below minor", "rough"),
        ("minor", "plain"),
        ("between minor and blue", "plain"),
        ("blue", "water"),
        ("between blue and straight", "plain"),
        ("straight", "firm"),
        ("above straight", "rough"),
    )
    found = (
        NamedZone(name, surface, *ends) for (name, surface), *ends in zip(named, edges[:-1], edges[1:], strict=True)
    )
    return tuple(each for each in found if each.high > each.low)


def zone_name(cents: float, zone: ThirdZone) -> str:
    """The name of the zone that ``cents`` lie in; an edge belongs to the blue zone, or else to the zone above it."""
    if zone.zone_low <= cents <= zone.zone_high:
        return "blue"
    zones = zones_of(zone)
    return next((each.name for each in reversed(zones) if cents >= each.low), zones[0].name)
