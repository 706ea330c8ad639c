"""Where the pitch stands, in words: the degree by its name, and how far from its place."""

from __future__ import annotations

from bridge.quantise.scales import DEGREES
from bridge.quantise.third import ThirdZone
from bridge.web.zones import zone_name

#: The degrees as they are said; the third is one place, however far it is flattened.
_NAMES = dict(
    zip(
        DEGREES,
        (
            *("root", "flat second", "second", "third", "third", "fourth"),
            *("flat fifth", "fifth", "flat sixth", "sixth", "flat seventh", "seventh"),
        ),
        strict=True,
    )
)
THIRDS = ("b3", "3")
_CENTS_PER_SEMITONE = 100.0


def nearest_degree(cents: float) -> str:
    """The degree whose place lies nearest to ``cents`` above the root, any octave."""
    return DEGREES[round(cents / _CENTS_PER_SEMITONE) % len(DEGREES)]


def pitch_words(cents: float, degree: str, zone: ThirdZone) -> str:
    """``third, 46 cents under straight, blue``; ``fifth, 8 cents over``: ``cents`` -50 to 1150 above the root.

    Of a third it says the zone of the map that it lies in.
    """
    if degree in THIRDS:
        return f"third, {_third_words(cents, zone)}"
    off = round((cents - DEGREES.index(degree) * _CENTS_PER_SEMITONE + 600.0) % 1200.0 - 600.0)
    return f"{_NAMES[degree]}, {_counted(off)}" if off else _NAMES[degree]


def _third_words(cents: float, zone: ThirdZone) -> str:
    """How far from straight, and the zone; beside a long name there is room for no more than the number."""
    off, name = round(cents - zone.straight), zone_name(cents, zone)
    if name == "straight":
        return f"straight, {_counted(off)}" if off else "straight"
    if name == "above straight":
        return f"{off} {_unit(off)} above straight"
    if name.startswith("between"):
        return f"{abs(off)} under, {name}"
    return f"{_counted(off)} straight, {name}"


def _counted(off: int) -> str:
    """How far, and to which side."""
    return f"{abs(off)} {_unit(off)} {'over' if off > 0 else 'under'}"


def _unit(off: int) -> str:
    return "cent" if abs(off) == 1 else "cents"
