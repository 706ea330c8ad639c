"""A harp's tuning out of straight notes that were heard: its A4, its temperament, and what is each reed's own.

A4 is the pitch at which the harp's temperament explains the reeds that were heard best: the mean over the reeds of what
is left when the temperament's offset is taken out. On a just harp at A443 it is thus 443 Hz, though none of its reeds
lies on a note of equal temperament at 443. The temperament is the one that is set, unless another explains the reeds
clearly better. Each reed's offset counts from equal temperament at that A4, so A4 and offset together are what was
heard, whichever temperament was taken; only reeds that were not heard depend on it.

A reed's pitch is that between soft and hard: at the middle of its own softest and hardest level, or, where it was heard
at one level only, at the middle of all the others'. The fall with breath is a straight line over the level, one for all
reeds (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.base.units import hz_above
from bridge.harp.harp import Harp, Reed
from bridge.harp.harp_file import FORMAT, BreathFall, HarpFile, ReedTuning
from bridge.harp.temperaments import Temperament, offset_cents

#: So much louder is hard than soft, at least, dB.
LOUDER_DB = 6.0
#: Reeds are tuned this exactly, standard deviation in cents (from memory).
_TUNED_CENTS = 2.0
#: Another temperament is clearly better when the reeds are 20 times as likely with it: twice the logarithm of that.
_CLEARLY = 6.0
#: Two that differ by less explain the reeds alike.
_ALIKE = 0.5
#: Of those that are alike the first one is taken, which leaves unheard reeds nearest to where all the others put them.
_ORDER: tuple[Temperament, ...] = ("equal", "just-19-limit", "compromise", "just-7-limit", "just-5-limit")


@dataclass(frozen=True, slots=True)
class Hearing:
    """One straight note: its reed, cents from the reed's equal-tempered note at the harp's A4, and level in dBFS."""

    reed: Reed
    cents: float
    spread_cents: float
    level_db: float


@dataclass(frozen=True, slots=True)
class Tuning:
    """How a harp is tuned; offsets are cents from equal temperament at ``a4_hz``.

    ``reeds`` holds those that were heard, in the order of the harp. ``alike`` are the temperaments that explain them
    about as well as ``temperament``, itself included; ``breath`` is None when soft and hard were not told apart.
    """

    a4_hz: float
    temperament: Temperament
    alike: tuple[Temperament, ...]
    reeds: tuple[tuple[Reed, ReedTuning], ...]
    breath: BreathFall | None


def fit_tuning(hearings: Sequence[Hearing], harp: Harp) -> Tuning:
    """The tuning of ``harp`` by what was heard of its reeds, at least one note, from its own A4 and temperament.

    Numbers are rounded to what can be heard: a hundredth of a Hz, a tenth of a cent and of a dB.
    """
    heard = {reed: [one for one in hearings if one.reed == reed] for reed in harp.reeds}
    heard = {reed: ones for reed, ones in heard.items() if ones}
    breath = _breath(list(heard.values()))
    slope = 0.0 if breath is None else -breath.fall_cents / (breath.hard_db - breath.soft_db)
    middles = {reed: _middle_db(ones, breath) for reed, ones in heard.items()}
    pitches = {
        reed: np.array([one.cents - slope * (one.level_db - middles[reed]) for one in ones])
        for reed, ones in heard.items()
    }
    places = {reed: float(np.mean(pitch)) for reed, pitch in pitches.items()}
    temperament, alike = _temperament(places, harp.temperament)
    a4_cents = float(np.mean([place - offset_cents(temperament, reed.semitones) for reed, place in places.items()]))
    reeds = tuple(
        (reed, ReedTuning(offset_cents=round(places[reed] - a4_cents, 1), spread_cents=_spread(pitches[reed], ones)))
        for reed, ones in heard.items()
    )
    return Tuning(round(hz_above(harp.a4_hz, a4_cents), 2), temperament, alike, reeds, breath)


def harp_file_of(tuning: Tuning, harp: Harp, date: str) -> HarpFile:
    """The harp's own file; ``date`` is the day, year-month-day."""
    reeds = {f"{reed.air} {reed.hole}": found for reed, found in tuning.reeds}
    return HarpFile(
        format=FORMAT,
        date=date,
        key=harp.key,
        layout=harp.layout.name,
        a4_hz=tuning.a4_hz,
        temperament=tuning.temperament,
        reeds=reeds,
        breath=tuning.breath,
    )


def soft_and_hard(hearings: Sequence[Hearing]) -> bool:
    """Whether one reed was heard at two levels that are far enough apart."""
    levels = [one.level_db for one in hearings]
    return bool(levels) and max(levels) - min(levels) >= LOUDER_DB


def _breath(heard: Sequence[Sequence[Hearing]]) -> BreathFall | None:
    """The line through what was heard softly and hard, each reed around its own mean; None without any such reed."""
    both = [ones for ones in heard if soft_and_hard(ones)]
    if not both:
        return None
    levels = [np.array([one.level_db for one in ones]) for ones in both]
    cents = [np.array([one.cents for one in ones]) for ones in both]
    away_db = np.concatenate([level - np.mean(level) for level in levels])
    away_cents = np.concatenate([cent - np.mean(cent) for cent in cents])
    slope = float(away_db @ away_cents / (away_db @ away_db))
    soft_db = round(float(np.mean([np.min(level) for level in levels])), 1)
    hard_db = round(float(np.mean([np.max(level) for level in levels])), 1)
    return BreathFall(soft_db=soft_db, hard_db=hard_db, fall_cents=round(-slope * (hard_db - soft_db), 1))


def _middle_db(hearings: Sequence[Hearing], breath: BreathFall | None) -> float:
    """The level between soft and hard at which the pitch of one reed counts."""
    levels = [one.level_db for one in hearings]
    if breath is None or soft_and_hard(hearings):
        return (min(levels) + max(levels)) / 2.0
    return (breath.soft_db + breath.hard_db) / 2.0


def _spread(pitches: np.ndarray[tuple[int], np.dtype[np.float64]], hearings: Sequence[Hearing]) -> float:
    """How far the pitch lay from the reed's own: between notes, and inside each of them; cents, to a tenth."""
    inside = np.mean([one.spread_cents**2 for one in hearings])
    return round(float(np.sqrt(np.var(pitches) + inside)), 1)


def _temperament(places: dict[Reed, float], wanted: Temperament) -> tuple[Temperament, tuple[Temperament, ...]]:
    """The temperament to take, and those that explain the reeds as well."""
    unlike = {}
    for name in (wanted, *_ORDER):
        left = [place - offset_cents(name, reed.semitones) for reed, place in places.items()]
        unlike[name] = float(np.var(left)) * len(left) / _TUNED_CENTS**2
    best = min(unlike.values())
    bound = unlike[wanted] if unlike[wanted] - best <= _CLEARLY else best
    alike = tuple(name for name, value in unlike.items() if abs(value - bound) <= _ALIKE)
    return alike[0], alike
