"""A slow pitch curve as a player makes it: places where it is held, and glides from one to the next.

A glide is described by the raised cosine that fits it best: where it starts and ends, and how far it goes. Lips and
tongue begin and end a bend softly, so that its first and last moment cannot be seen; those of the fitted curve can.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import clip

Floats = NDArray[np.float64]

#: What moves less far than this is an unsteady hold, no glide, cents.
GLIDE_CENTS = 20.0
#: Shorter than this, in seconds, a pitch is passed through, not held.
HELD_S = 0.06
#: On its way the pitch has come to rest when it moves slower than this part of its mean speed.
_RESTING = 0.25
_SPEED_S = 0.04
#: How far to either side of a glide, in seconds, what is held there counts for its fit.
_ASIDE_S = 0.2
_ROUNDS, _TRIED = 4, 7


@dataclass(frozen=True, slots=True)
class Glide:
    """From ``from_cents`` to ``to_cents`` over ``length_s`` seconds, from ``start_s`` on."""

    from_cents: float
    to_cents: float
    start_s: float
    length_s: float

    @property
    def end_s(self) -> float:
        """When it has come to its end."""
        return self.start_s + self.length_s

    @property
    def rise_cents(self) -> float:
        """How far it goes, negative downwards."""
        return self.to_cents - self.from_cents

    def at(self, time_s: float) -> float:
        """Where it is at ``time_s``, cents; held before and after."""
        along = clip((time_s - self.start_s) / self.length_s, 0.0, 1.0)
        return self.from_cents + self.rise_cents * (0.5 - 0.5 * math.cos(math.pi * along))


@dataclass(frozen=True, slots=True)
class Hold:
    """A pitch that was held: ``cents``, from ``start_s`` on for ``length_s``, strayed by ``spread_cents``.

    The spread is one standard deviation, or what would be one if single moments far off did not count.
    """

    cents: float
    start_s: float
    length_s: float
    spread_cents: float


def find_glides(time_s: Floats, cents: Floats, spoken_s: float = 0.0) -> list[Glide]:
    """Every glide of a curve without vibrato, in order; ``time_s`` (n,) evenly spaced, ``cents`` (n,) known everywhere.

    What the pitch does before ``spoken_s`` counts only for a glide that is over soon after it.
    """
    step_s = float(time_s[1] - time_s[0]) if len(time_s) > 1 else 1.0
    size = max(1, round(_SPEED_S / step_s))
    legs = [part for leg in _legs(_smoothed(cents, size)) for part in _parts(cents, *leg, step_s)]
    glides = []
    for number, (first, last) in enumerate(legs):
        aside = round(_ASIDE_S / step_s)
        low = max(0, first - aside, legs[number - 1][1] if number else 0)
        high = min(len(cents), last + aside + 1, legs[number + 1][0] + 1 if number + 1 < len(legs) else len(cents))
        if time_s[last] - spoken_s > HELD_S:
            low = max(low, min(int(np.searchsorted(time_s, spoken_s)), last - 1))
        glides.append(_fitted(time_s[low:high], cents[low:high], time_s[first], time_s[last]))
    return [glide for glide in glides if abs(glide.rise_cents) >= GLIDE_CENTS]


def find_holds(time_s: Floats, cents: Floats, glides: Sequence[Glide], spoken_s: float = 0.0) -> list[Hold]:
    """Where the pitch was held between the glides, in order; where can be, without what it does before ``spoken_s``."""
    if not len(time_s):
        return []
    edges = [float(time_s[0]), *(edge for glide in glides for edge in (glide.start_s, glide.end_s)), float(time_s[-1])]
    holds = []
    for start_s, end_s in zip(edges[::2], edges[1::2], strict=True):
        first_s = max(start_s, spoken_s) if end_s - spoken_s >= HELD_S else start_s
        inside = cents[(time_s >= first_s) & (time_s <= end_s)]
        if end_s - start_s >= HELD_S and len(inside):
            low, middle, high = np.percentile(inside, (15.87, 50.0, 84.13))
            holds.append(Hold(float(middle), start_s, end_s - start_s, float(high - low) / 2.0))
    return holds


def _legs(cents: Floats) -> list[tuple[int, int]]:
    """First and last place of every way up or down by at least a glide, from turning point to turning point."""
    turns: list[int] = []
    low = high = way = 0
    for place, value in enumerate(cents.tolist()):
        low = place if value < cents[low] else low
        high = place if value > cents[high] else high
        if way >= 0 and cents[high] - value >= GLIDE_CENTS:
            turns, way, low = [*turns, high], -1, place
        elif way <= 0 and value - cents[low] >= GLIDE_CENTS:
            turns, way, high = [*turns, low], 1, place
    if way:
        turns.append(high if way > 0 else low)
    return list(pairwise(turns))


def _parts(cents: Floats, first: int, last: int, step_s: float) -> list[tuple[int, int]]:
    """One way up or down, cut where the pitch rests for a while on it; each part from rest to rest."""
    size = max(1, round(_SPEED_S / step_s))
    way = np.sign(cents[last] - cents[first])
    speed = way * np.gradient(_smoothed(cents[first : last + 1], size)) if last > first + 1 else np.zeros(2)
    moving = speed > _RESTING * float(abs(cents[last] - cents[first])) / (last - first)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], moving.astype(int), [0]))))
    parts: list[tuple[int, int]] = []
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        begin, end = first + start, min(last, first + stop)
        if parts and (begin - parts[-1][1]) * step_s < HELD_S:
            parts[-1] = (parts[-1][0], end)
        else:
            parts.append((begin, end))
    return [part for part in parts if abs(cents[part[1]] - cents[part[0]]) >= 0.5 * GLIDE_CENTS]


def _fitted(time_s: Floats, cents: Floats, start_s: float, end_s: float) -> Glide:
    """The raised cosine between two levels that fits best, begun and ended about there."""
    middle_s, length_s = 0.5 * (start_s + end_s), max(1.2 * (end_s - start_s), 0.02)
    reach_s, stretch = 0.3 * length_s, 1.5
    low, high = 0.0, 0.0
    for _ in range(_ROUNDS):
        tried = [
            (*_levels(time_s, cents, at_s, long_s), at_s, long_s)
            for at_s in np.linspace(middle_s - reach_s, middle_s + reach_s, _TRIED).tolist()
            for long_s in (length_s * np.geomspace(1.0 / stretch, stretch, _TRIED)).tolist()
        ]
        _, low, high, middle_s, length_s = min(tried)
        reach_s, stretch = 0.4 * reach_s, stretch**0.4
    return Glide(low, high, middle_s - 0.5 * length_s, length_s)


def _levels(time_s: Floats, cents: Floats, middle_s: float, length_s: float) -> tuple[float, float, float]:
    """Squares that are left, and the levels before and after, of the glide about ``middle_s``."""
    along = np.clip((time_s - middle_s) / length_s + 0.5, 0.0, 1.0)
    shape = 0.5 - 0.5 * np.cos(np.pi * along)
    mean, mean_cents = float(np.mean(shape)), float(np.mean(cents))
    spread = float(np.sum((shape - mean) ** 2))
    rise = float(np.sum((shape - mean) * (cents - mean_cents))) / spread if spread > 1e-9 else 0.0
    low = mean_cents - rise * mean
    return float(np.sum((low + rise * shape - cents) ** 2)), low, low + rise


def _smoothed(cents: Floats, size: int) -> Floats:
    """Running mean over ``size`` points, the ends held."""
    size += 1 - size % 2
    padded = np.pad(cents, size // 2, mode="edge")
    return np.convolve(padded, np.full(size, 1.0 / size), mode="valid")
