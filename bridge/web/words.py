"""Where the pitch stands, in words: the degree by its name, and how far from its place."""

from __future__ import annotations

from bridge.quantise.scales import DEGREES
from bridge.quantise.third import ThirdZone
from bridge.takes.finished import blue_words

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
_FULLY = "fully blue"


def nearest_degree(cents: float) -> str:
    """The degree whose place lies nearest to ``cents`` above the root, any octave."""
    return DEGREES[round(cents / _CENTS_PER_SEMITONE) % len(DEGREES)]


def pitch_words(cents: float, degree: str, blueness: float, zone: ThirdZone) -> str:
    """``third, 46 cents under straight, blue``; ``fifth, 8 cents over``: ``cents`` -50 to 1150 above the root."""
    if degree in THIRDS:
        off = round(cents - zone.straight)
        where = "straight" if off == 0 else f"{_counted(off)} straight"
        words = blue_words(blueness)
        return f"third, {where}, {'blue' if words == _FULLY else words}"
    off = round((cents - DEGREES.index(degree) * _CENTS_PER_SEMITONE + 600.0) % 1200.0 - 600.0)
    return f"{_NAMES[degree]}, {_counted(off)}" if off else _NAMES[degree]


def _counted(off: int) -> str:
    """How far, and to which side."""
    return f"{abs(off)} {'cent' if abs(off) == 1 else 'cents'} {'over' if off > 0 else 'under'}"
