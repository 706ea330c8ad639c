"""Tab: a note of the harp as a word, in one of the conventions of the trade (common practice, no source).

| convention | blow 4 | draw 4 | draw 3 bent two semitones | overblow 6 | overdraw 7 |
| --- | --- | --- | --- | --- | --- |
| signs | +4 | -4 | -3'' | +6o | -7o |
| arrows | 4↑ | 4↓ | 3↓'' | 6↑o | 7↓o |
| letters | 4B | 4D | 3D'' | 6OB | 7OD |

One apostrophe is a semitone of bend, to the nearest one, half way the fewer. A question mark follows a note that
another reed gives as well. In words (:func:`in_words`) a bend is told to the nearest quarter tone.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from bridge.harp.reeds import ReedReading, nearest_step

Convention = Literal["signs", "arrows", "letters"]
CONVENTIONS: tuple[Convention, ...] = get_args(Convention)

_CENTS_PER_SEMITONE = 100.0
_QUARTER_TONE = 50.0
_DRAWN_AND_BLOWN: Mapping[Convention, tuple[str, str]] = {
    "signs": ("-3", "+3"),
    "arrows": ("3↓", "3↑"),
    "letters": ("3D", "3B"),
}


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


def legend(convention: Convention) -> str:
    """One line that says how the convention is read."""
    drawn, blown = _DRAWN_AND_BLOWN[convention]
    over = "OB overblow, OD overdraw" if convention == "letters" else "o overblow or overdraw"
    either = "? another reed gives the note too"
    return f"Tab: {drawn} is hole 3 drawn, {blown} blown; ' a semitone of bend; {over}; {either}."


def in_words(reading: ReedReading) -> str:
    """The reading as one says it: ``draw 3, bent half a semitone``, ``overblow 6``, ``draw 2 or blow 3``."""
    how = reading.kind if reading.kind in {"overblow", "overdraw"} else reading.air
    bent = f", bent {_depth(reading.bend_cents)}" if reading.kind == "bend" else ""
    other = f" or {in_words(reading.rival)}" if reading.rival is not None else ""
    return f"{how} {reading.hole}{bent}{other}"


def _apostrophes(reading: ReedReading) -> str:
    if reading.kind != "bend":
        return ""
    return "'" * max(1, nearest_step(-reading.bend_cents, _CENTS_PER_SEMITONE))


def _depth(bend_cents: float) -> str:
    """How deep a bend is, in semitones to the nearest half."""
    whole, half = divmod(max(1, nearest_step(-bend_cents, _QUARTER_TONE)), 2)
    if not whole:
        return "half a semitone"
    return f"{whole}{'½' * half} semitone{'s' * (whole + half > 1)}"
