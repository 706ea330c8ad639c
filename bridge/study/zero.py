"""Where the zero of a recording lies: its A4, from the roots that were held.

An old recording runs fast or slow and may drift while it runs, and a harp has a pitch of its own. The notes that tell
it best are the roots, since every interval is heard from there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import cents_between, hz_above
from bridge.harp.harp import Harp
from bridge.harp.positions import root_semitones
from bridge.study.held import Held

_SEMITONES_PER_OCTAVE = 12
#: Fewer roots than this in each half tell no drift.
_LEAST_FOR_DRIFT = 3
#: Further than this from a straight reed, cents, a pitch is bent and tells nothing of the zero.
_REACH_CENTS = 35.0
#: A pitch that strays further, one standard deviation in cents, is on its way somewhere.
_STEADY_CENTS = 25.0
#: Semitones of the third above the root: the player's to bend, so it never tells the zero.
_THIRDS = (3, 4)
#: A drift must leave so much less of the scatter than one zero does, and be wider than the reeds of one harp differ.
_BETTER, _LEAST_DRIFT_CENTS = 0.8, 10.0
#: How far a straight note lies from its place though nothing is wrong, one standard deviation in cents (from memory).
_UNSTEADY_CENTS = 8.0
#: A pitch strays to one side and the other within so many seconds, so that a long note evens its straying out.
_SWING_S = 0.1
#: A root that lies so many seconds away counts half.
_HALF_S = 10.0
#: How fast recordings drift, and how far a zero may be off of which nothing is known, one standard deviation each.
_DRIFT_CENTS_PER_S, _UNKNOWN_CENTS = 1.0, 50.0

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Zero:
    """``a4_hz`` with its uncertainty, one standard deviation in cents.

    ``notes`` is how many straight notes told it, ``roots`` whether they were roots.
    """

    a4_hz: float
    spread_cents: float
    notes: int
    roots: bool = True


@dataclass(frozen=True, slots=True)
class Drift:
    """A zero that moves: ``a4`` is A4 in Hz at some instants in seconds, in order; the rest as in :class:`Zero`.

    ``spread_cents`` is that at the least certain of the notes.
    """

    a4: tuple[tuple[float, float], ...]
    spread_cents: float
    notes: int
    roots: bool = True

    @property
    def cents(self) -> float:
        """From the lowest A4 to the highest."""
        every = [hz for _, hz in self.a4]
        return cents_between(max(every), min(every))


def find_zero(held: Sequence[Held], harp: Harp, at_s: float | None = None) -> Zero | None:
    """The zero of ``held``, in the order of time, given the harp with an A4 that is right within some 30 cents.

    It is taken from the roots that a straight reed gives, or without any from every straight reed but the third, which
    is the player's to bend. Without ``at_s`` it is the mean over all of them; with it the zero at that instant, from
    the roots near it, so that a drift is followed. None where no straight reed was held.
    """
    told = _telling(held, harp)
    if not len(told.offs):
        return None
    cents, spread = _mean(told.offs, told.weights) if at_s is None else told.at(at_s)
    return Zero(hz_above(harp.a4_hz, cents), spread, len(told.offs), roots=told.roots)


def find_drift(held: Sequence[Held], harp: Harp) -> Drift | None:
    """How the zero of ``held`` moves, given the harp as for :func:`find_zero`; None where it stays.

    It moves where each root is told better by the roots near it than by all of them, and by more than the reeds of one
    harp differ.
    """
    told = _telling(held, harp)
    if len(told.offs) < 2 * _LEAST_FOR_DRIFT:
        return None
    alone = np.eye(len(told.offs), dtype=bool)
    from_near = np.array([told.without(one).at(start)[0] for one, start in zip(alone, told.starts_s, strict=True)])
    from_all = np.array([np.average(told.offs[~one], weights=told.weights[~one]) for one in alone])
    left, left_of_all = (float(told.weights @ (told.offs - guess) ** 2) for guess in (from_near, from_all))
    first, last = float(told.starts_s[0]), float(told.starts_s[-1])
    times = np.linspace(first, last, 2 + int((last - first) / _HALF_S))
    cents = [told.at(at)[0] for at in times]
    if left > _BETTER * left_of_all or max(cents) - min(cents) < _LEAST_DRIFT_CENTS:
        return None
    a4 = tuple((float(at), hz_above(harp.a4_hz, off)) for at, off in zip(times, cents, strict=True))
    return Drift(a4, max(told.at(start)[1] for start in told.starts_s), len(told.offs), roots=told.roots)


@dataclass(frozen=True, slots=True, eq=False)
class _Telling:
    """What tells the zero, in the order of time, arrays of one shape (n,): cents off, weights and beginnings."""

    offs: _Floats
    weights: _Floats
    starts_s: _Floats
    roots: bool

    def at(self, at_s: float) -> tuple[float, float]:
        """The zero at that instant and its standard error, cents."""
        return _local(self.offs, self.weights, self.starts_s - at_s)

    def without(self, these: NDArray[np.bool_]) -> _Telling:
        """The same without some."""
        return _Telling(self.offs[~these], self.weights[~these], self.starts_s[~these], self.roots)


def _telling(held: Sequence[Held], harp: Harp) -> _Telling:
    """The notes of ``held`` that tell the zero: steady ones on straight reeds, roots if there are any."""
    straight = [(note, *off) for note in held if (off := _offset(note, harp)) is not None]
    roots = [(note, cents) for note, cents, degree in straight if degree == 0]
    kept = roots or [(note, cents) for note, cents, degree in straight if degree not in _THIRDS]
    return _Telling(
        np.array([cents for _, cents in kept]),
        np.array([_weight(note) for note, _ in kept]),
        np.array([note.start_s for note, _ in kept]),
        roots=bool(roots),
    )


def _offset(note: Held, harp: Harp) -> tuple[float, int] | None:
    """Cents from the straight reed that ``note`` is, and its semitones above the root; None for a bent or loose one."""
    cents = cents_between(note.hz, harp.hole1_hz)
    reed = min(harp.reeds, key=lambda reed: abs(cents - reed.cents))
    if abs(cents - reed.cents) > _REACH_CENTS or note.spread_cents > _STEADY_CENTS:
        return None
    return cents - reed.cents, (reed.semitones - root_semitones(harp.position)) % _SEMITONES_PER_OCTAVE


def _weight(note: Held) -> float:
    """One over the variance of what this note tells, cents squared."""
    swings = max(1.0, note.length_s / _SWING_S)
    return 1.0 / (_UNSTEADY_CENTS**2 + note.spread_cents**2 / swings)


def _mean(offs: _Floats, weights: _Floats) -> tuple[float, float]:
    """Weighted mean of notes in the order of time, and its standard error, or how far they drift if that is more.

    One note alone is as uncertain as any single note; a drift is half of what lies between both halves.
    """
    shares = weights / np.sum(weights)
    mean = float(shares @ offs)
    notes = 1.0 / float(shares @ shares)
    error = math.sqrt(float(shares @ (offs - mean) ** 2) / notes + _UNSTEADY_CENTS**2 / notes**2)
    half = len(offs) // 2
    if half < _LEAST_FOR_DRIFT:
        return mean, error
    early, late = (np.average(offs[part], weights=weights[part]) for part in (slice(half), slice(half, None)))
    return mean, max(error, abs(float(late - early)) / 2.0)


def _local(offs: _Floats, weights: _Floats, away_s: _Floats) -> tuple[float, float]:
    """Where a line through the notes passes at 0 s, near ones counting most, and its standard error.

    Drifts are slow, so that a steep line needs many notes to be believed.
    """
    near = weights * 0.5 ** (np.abs(away_s) / _HALF_S)
    line = np.stack((np.ones_like(away_s), away_s))
    known = (line * near) @ line.T + np.diag((0.0, 1.0 / _DRIFT_CENTS_PER_S**2))
    # A root too far away leaves next to nothing to be known.
    known[0, 0] += 1.0 / _UNKNOWN_CENTS**2
    at_zero, _ = np.linalg.solve(known, line @ (near * offs))
    return float(at_zero), math.sqrt(float(np.linalg.inv(known)[0, 0]))
