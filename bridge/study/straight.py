"""Whether a tone is one straight reed of a harp, held as a reed is held by which a harp can be tuned.

The limits are our own (common practice, no source); each stands beside its number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from bridge.base.units import cents_between, clip
from bridge.harp.harp import Harp, Reed
from bridge.harp.temperaments import TEMPERAMENTS, offset_cents
from bridge.study.tones import Tone

#: What is wrong with a tone; ``low`` and ``high`` are off a reed of the harp, ``other`` is none of its straight notes.
Fault = Literal["voice", "pure", "doubled", "short", "sliding", "unsteady", "low", "high", "other"]

#: From here on it is a reed, 0..1; a tone less bright than this has no overtones, as no reed is even in closed hands.
_REED, _BRIGHT = 0.5, 0.02
#: Less clean than this, 0..1, two reeds sound.
_CLEAN = 0.5
#: So long a tone has a middle that is held, in seconds.
LEAST_S = 0.8
#: A breath that is held strays no further, standard deviation in cents, and leads no further away.
_SPREAD_CENTS, _SLIDE_CENTS = 6.0, 10.0
#: A harp's A4, its tuning and hard playing together move a reed no further than this from its note, cents.
_REACH_CENTS = 45.0
#: Beyond what any temperament says, a reed is tuned no further off the others, cents; and playing that is louder by
#: some dB makes it no more than so many cents flatter, up to so many (from memory: hard playing costs 5 to 15 cents).
_TUNED_CENTS, _FALL_PER_DB, _MOST_FALL_CENTS = 10.0, 1.0, 15.0


@dataclass(frozen=True, slots=True)
class Judged:
    """What a tone is: the reed whose note is nearest and ``off_cents``, its distance from the equal-tempered note.

    ``fault`` is None for one straight reed, well held.
    """

    tone: Tone
    reed: Reed
    off_cents: float
    fault: Fault | None


def held_fault(tone: Tone) -> Fault | None:
    """What keeps a tone from being any single reed well held, whatever its pitch."""
    if tone.bright <= _BRIGHT and tone.length_s >= LEAST_S and tone.spread_cents <= _SPREAD_CENTS:
        return "pure"
    if tone.reed < _REED or tone.bright <= _BRIGHT:
        return "voice"
    if tone.reeds > 1 or tone.clean < _CLEAN:
        return "doubled"
    if tone.length_s < LEAST_S:
        return "short"
    if abs(tone.slide_cents) > _SLIDE_CENTS:
        return "sliding"
    return "unsteady" if tone.spread_cents > _SPREAD_CENTS else None


def judge(tone: Tone, harp: Harp, wanted: Sequence[Reed] = ()) -> Judged:
    """What ``tone`` is on ``harp``, of which only key, layout and A4 count.

    Of two reeds with one note it is the one that is ``wanted``, else the drawn one.
    """
    cents = cents_between(tone.hz, harp.hole1_hz)
    off = {reed: cents - 100.0 * reed.semitones for reed in harp.reeds}
    reed = min(harp.reeds, key=lambda reed: (abs(off[reed]), reed not in wanted, reed.air == "blow"))
    fault = held_fault(tone)
    if fault is None and abs(off[reed]) > _REACH_CENTS:
        fault = "other"
    return Judged(tone, reed, off[reed], fault)


def beside(judged: Judged, root: Reed, root_cents: float, root_db: float) -> Judged:
    """The same beside the straight ``root``, heard ``root_cents`` above its equal-tempered note at ``root_db``.

    It is low or high where no temperament puts it, however it was played.
    """
    if judged.fault is not None:
        return judged
    apart = [offset_cents(name, judged.reed.semitones) - offset_cents(name, root.semitones) for name in TEMPERAMENTS]
    louder_cents = _FALL_PER_DB * (judged.tone.level_db - root_db)
    low = min(apart) - _TUNED_CENTS - clip(louder_cents, 0.0, _MOST_FALL_CENTS)
    high = max(apart) + _TUNED_CENTS + clip(-louder_cents, 0.0, _MOST_FALL_CENTS)
    if judged.off_cents - root_cents < low:
        return replace(judged, fault="low")
    return replace(judged, fault="high") if judged.off_cents - root_cents > high else judged
