"""The third as a stretch of road seen from above: minor at the left, straight at the right, the blue zone between.

A mark travels along it with the pitch and leaves a trail of the last second. What it shows is also said in words, and
each part of the road has a surface of its own, so that nothing depends on colour.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from bridge.quantise.third import ThirdZone, blueness
from bridge.wiring.meter_process import MeterSetup

#: Cents of road beyond the minor third and beyond the straight one: a third may be played that far outside.
_BEFORE, _BEYOND = 75.0, 40.0
#: How near counts as being there: well above what a listener can tell apart, well below the width of the zone.
_THERE_CENTS = 8.0
_EDGE, _ROAD, _ZONE, _TRAIL, _MARK = "─", " ", "▓", "·", "◆"
#: The edges of the zone, over which blueness fades, the lighter the less blue; from this blueness on.
_FADING = ((0.5, "▒"), (0.05, "░"))


def on_road(cents: float, setup: MeterSetup) -> bool:
    """Whether the third at ``cents`` above the root lies on the stretch that is shown."""
    return setup.minor - _BEFORE <= cents <= setup.straight + _BEYOND


def column(cents: float, setup: MeterSetup, width: int) -> int:
    """Column of ``cents`` on a road ``width`` columns long, kept on it."""
    start = setup.minor - _BEFORE
    length = setup.straight + _BEYOND - start
    return min(max(round((cents - start) / length * (width - 1)), 0), width - 1)


def draw_road(cents: float | None, trail: Sequence[float], setup: MeterSetup, width: int) -> list[Text]:
    """Signs, edge, road and edge: four lines, each ``width`` columns. ``cents`` None: nobody is on the road."""
    road = [(surface, "" if surface == _ROAD else "blue") for surface in _surfaces(setup, width)]
    for passed in trail:
        if on_road(passed, setup):
            road[column(passed, setup, width)] = (_TRAIL, "bold")
    if cents is not None:
        road[column(cents, setup, width)] = (_MARK, "bold reverse")
    return [
        _signs(setup, width),
        Text(_EDGE * width, style="dim"),
        Text.assemble(*road),
        Text(_EDGE * width, style="dim"),
    ]


def _surfaces(setup: MeterSetup, width: int) -> list[str]:
    """What each column of the road is made of: the zone, its fading edges, or nothing."""
    zone = ThirdZone(setup.straight, setup.minor, setup.target, setup.zone_low, setup.zone_high)
    low, high = column(setup.zone_low, setup, width), column(setup.zone_high, setup, width)
    surfaces = []
    for place in range(width):
        blue = blueness(_cents_at(place, setup, width), zone)
        fading = next((surface for least, surface in _FADING if blue >= least), _ROAD)
        surfaces.append(_ZONE if low <= place <= high else fading)
    return surfaces


def _cents_at(place: int, setup: MeterSetup, width: int) -> float:
    """Cents above the root in the middle of a column, the inverse of :func:`column`."""
    start = setup.minor - _BEFORE
    return start + (setup.straight + _BEYOND - start) * place / max(width - 1, 1)


def _signs(setup: MeterSetup, width: int) -> Text:
    """The names over their places; what finds no room is left out, ``blue`` first."""
    line = [" "] * width
    middle = (setup.zone_low + setup.zone_high) / 2.0
    for name, cents in (("minor", setup.minor), ("straight", setup.straight), ("blue", middle)):
        start = min(max(column(cents, setup, width) - len(name) // 2, 0), max(width - len(name), 0))
        around = line[max(start - 1, 0) : start + len(name) + 1]
        if "".join(around).isspace() and len(name) <= width:
            line[start : start + len(name)] = name
    return Text("".join(line))


def place_words(cents: float, lean: float, setup: MeterSetup) -> str:
    """Where on the road, in words; ``lean`` is the side of the target, -1 minor to +1 straight."""
    if cents < setup.minor - _THERE_CENTS:
        return "below the minor third"
    if cents <= setup.minor + _THERE_CENTS:
        return "at the minor third"
    if cents < setup.zone_low:
        return "between minor and blue"
    if cents <= setup.zone_high:
        side = "towards straight" if lean > 0.0 else "towards minor"
        return "in the blue zone, " + ("on the target" if abs(cents - setup.target) <= _THERE_CENTS else side)
    if cents < setup.straight - _THERE_CENTS:
        return "between blue and straight"
    return "straight" if cents <= setup.straight + _THERE_CENTS else "above straight"
