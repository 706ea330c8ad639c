"""How the notes of a harp are tuned against one another: cents from equal temperament for each note over the key.

Just ratios: Ö. Hansson, Theory of harmonica tuning (2004-06), table 8B, which gives the plain ten-hole layout in whole
cents: blow 0, -14, +2; draw 1, 4, 8 +4; draw 2 +2; draw 3, 7 -12; draw 6, 10 +6; and draw 5, 9 +20, -29 or +1 by the
limit. Notes that only altered layouts have take the minor third, the seventh or the third over the chord they sound in
(from memory). The compromise lies half way from equal to the 7-limit, which is the old just tuning; makers' recipes
differ (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from math import log2
from typing import Literal, get_args

from bridge.base.units import CENTS_PER_OCTAVE

Temperament = Literal["equal", "just-5-limit", "just-7-limit", "just-19-limit", "compromise"]
TEMPERAMENTS: tuple[Temperament, ...] = get_args(Temperament)

_CENTS_PER_SEMITONE = 100.0
_SEMITONES = 12


def _ratios(words: str) -> tuple[Fraction, ...]:
    """Twelve ratios over the harp's key, one for each semitone from the key itself."""
    return tuple(map(Fraction, words.split()))


_JUST: Mapping[Temperament, tuple[Fraction, ...]] = {
    # Draw 5 is a minor third over draw 4, 27/20 = 9/8 * 6/5: the chord of third position is pure.
    "just-5-limit": _ratios("1 16/15 9/8 6/5 5/4 27/20 45/32 3/2 8/5 27/16 9/5 15/8"),
    # Draw 5 is the seventh harmonic over draw 2, 21/16 = 3/2 * 7/4 / 2: the chord of cross position is pure.
    "just-7-limit": _ratios("1 16/15 9/8 6/5 5/4 21/16 45/32 3/2 8/5 27/16 9/5 15/8"),
    # Draw 5 is 19/16 over draw 4, 171/128, nearly equal; minor thirds likewise.
    "just-19-limit": _ratios("1 16/15 9/8 19/16 5/4 171/128 45/32 3/2 19/12 27/16 57/32 15/8"),
}
_COMPROMISE_SHARE = 0.5


def offset_cents(temperament: Temperament, semitones: int) -> float:
    """Cents from equal temperament of the note ``semitones`` above the harp's key (any octave); the key itself is 0."""
    if temperament == "equal":
        return 0.0
    if temperament == "compromise":
        return _COMPROMISE_SHARE * offset_cents("just-7-limit", semitones)
    step = semitones % _SEMITONES
    return CENTS_PER_OCTAVE * log2(_JUST[temperament][step]) - _CENTS_PER_SEMITONE * step
