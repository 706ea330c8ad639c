"""Tab: a note of the harp as a word, in one of the conventions of the trade (common practice, no source).

| convention | blow 4 | draw 4 | draw 3 bent two semitones | overblow 6 | overdraw 7 |
| --- | --- | --- | --- | --- | --- |
| signs | +4 | -4 | -3'' | +6o | -7o |
| arrows | 4↑ | 4↓ | 3↓'' | 6↑o | 7↓o |
| letters | 4B | 4D | 3D'' | 6OB | 7OD |

One apostrophe is a semitone of bend, to the nearest one. A question mark follows a note that another reed gives as
well.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, get_args

from bridge.harp.reeds import ReedReading

Convention = Literal["signs", "arrows", "letters"]
CONVENTIONS: tuple[Convention, ...] = get_args(Convention)

_CENTS_PER_SEMITONE = 100.0


def tab(reading: ReedReading, convention: Convention = "signs") -> str:
    """The reading as one word of tab."""
    over = reading.kind in {"overblow", "overdraw"}
    blown = reading.air == "blow"
    match convention:
        case "signs":
            note = f"{'+' if blown else '-'}{reading.hole}{'o' * over}"
        case "arrows":
            note = f"{reading.hole}{'↑' if blown else '↓'}{'o' * over}"
        case "letters":
            note = f"{reading.hole}{'O' * over}{'B' if blown else 'D'}"
    return f"{note}{_apostrophes(reading)}{'?' * reading.ambiguous}"


def tab_line(readings: Iterable[ReedReading], convention: Convention = "signs") -> str:
    """The readings one after another, a space between them."""
    return " ".join(tab(reading, convention) for reading in readings)


def _apostrophes(reading: ReedReading) -> str:
    if reading.kind != "bend":
        return ""
    return "'" * max(1, round(-reading.bend_cents / _CENTS_PER_SEMITONE))
