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
    """``a4_hz`` with its uncertainty, one standard deviation in cents; ``notes`` is how many told it."""

    a4_hz: float
    spread_cents: float
    notes: int


def find_zero(held: Sequence[Held], harp: Harp, at_s: float | None = None) -> Zero | None:
    """The zero of ``held``, in the order of time, given the harp with an A4 that is right within some 30 cents.

    It is taken from the roots that a straight reed gives, or without any from every straight reed. Without ``at_s`` it
    is the mean over all of them; with it the zero at that instant, from the roots near it, so that a drift is followed.
    None where no straight reed was held.
    """
    straight = [(note, off, is_root) for note in held for off, is_root in _offsets(note, harp)]
    kept = [(note, off) for note, off, is_root in straight if is_root] or [(note, off) for note, off, _ in straight]
    if not kept:
        return None
    offs = np.array([off for _, off in kept])
    weights = np.array([_weight(note) for note, _ in kept])
    if at_s is None:
        cents, spread = _mean(offs, weights)
    else:
        cents, spread = _local(offs, weights, np.array([note.start_s for note, _ in kept]) - at_s)
    return Zero(hz_above(harp.a4_hz, cents), spread, len(kept))


def _offsets(note: Held, harp: Harp) -> list[tuple[float, bool]]:
    """Cents from the straight reed that ``note`` is, and whether that is a root; nothing for a bent note."""
    cents = cents_between(note.hz, harp.hole1_hz)
    reed = min(harp.reeds, key=lambda reed: abs(cents - reed.cents))
    if abs(cents - reed.cents) > _REACH_CENTS:
        return []
    is_root = (reed.semitones - root_semitones(harp.position)) % _SEMITONES_PER_OCTAVE == 0
    return [(cents - reed.cents, is_root)]


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
