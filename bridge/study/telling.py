"""What tells the zero of a recording: the straight notes that were held, and where each one puts it.

Roots tell it best, since every interval is heard from there; what they tell is followed through a recording that
drifts, and held against the other straight notes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import cents_between, clip
from bridge.harp.harp import Harp
from bridge.harp.positions import root_semitones
from bridge.study.held import Held

Floats = NDArray[np.float64]
#: Where the zero lies at an instant in seconds, cents above the harp's.
ZeroAt = Callable[[float], float]
#: Which semitones above the root are wanted.
_Wanted = Callable[[int], bool]

_SEMITONES_PER_OCTAVE = 12
#: Fewer notes than this in each half tell no drift.
LEAST_FOR_DRIFT = 3
#: Further than this from a straight reed, cents, a pitch is bent and tells nothing of the zero.
_REACH_CENTS = 35.0
#: A pitch that strays further, one standard deviation in cents, is on its way somewhere.
_STEADY_CENTS = 25.0
#: Semitones of the third above the root: the player's to bend, so it never tells the zero.
_THIRDS = (3, 4)
#: How far a straight note lies from its place though nothing is wrong, one standard deviation in cents (from memory).
_UNSTEADY_CENTS = 8.0
#: A pitch strays to one side and the other within so many seconds, so that a long note evens its straying out.
_SWING_S = 0.1
#: A note that lies so many seconds away counts half; one that lies so many times further counts nothing.
HALF_S = 10.0
_TOO_FAR = 6.0
#: How fast recordings drift, and how far a zero may be off of which nothing is known, one standard deviation each.
_DRIFT_CENTS_PER_S, _UNKNOWN_CENTS = 1.0, 50.0
#: With each look around the last line more of its notes are seen; after so many there is nothing more to see.
_MOST_LOOKS = 8
#: Roots that lie further from the other straight notes than the reeds of one harp differ, in any temperament, are
#: bent or tuned on purpose: in cents, and in standard errors of what lies between. Fewer others tell nothing.
_APART_CENTS, _APART_ERRORS = 20.0, 3.0
_LEAST_OTHERS, _LEAST_OTHER_REEDS = 3, 2


@dataclass(frozen=True, slots=True, eq=False)
class Telling:
    """Straight notes in the order of time, arrays of one shape (n,): cents off, weights, beginnings and reeds.

    ``degrees`` are semitones above the root; ``roots`` is whether all are roots.
    """

    offs: Floats
    weights: Floats
    starts_s: Floats
    degrees: NDArray[np.intp]
    roots: bool

    def __len__(self) -> int:
        """How many they are."""
        return len(self.offs)

    def at(self, at_s: float) -> tuple[float, float]:
        """The zero at that instant, cents, by a line through the notes near it, and its standard error.

        Drifts are slow, so that a steep line needs many notes to be believed.
        """
        # Where next to nothing is known it is as at the notes that came before and come after.
        as_nearest = float(np.interp(at_s, self.starts_s, self.offs))
        near = slice(*np.searchsorted(self.starts_s, (at_s - _TOO_FAR * HALF_S, at_s + _TOO_FAR * HALF_S)))
        away_s = self.starts_s[near] - at_s
        weights = self.weights[near] * 0.5 ** (np.abs(away_s) / HALF_S)
        line = np.stack((np.ones_like(away_s), away_s))
        known = (line * weights) @ line.T + np.diag((0.0, 1.0 / _DRIFT_CENTS_PER_S**2))
        known[0, 0] += 1.0 / _UNKNOWN_CENTS**2
        at_zero, _ = np.linalg.solve(known, line @ (weights * (self.offs[near] - as_nearest)))
        return as_nearest + float(at_zero), math.sqrt(float(np.linalg.inv(known)[0, 0]))

    def led_to(self, at_s: float) -> float:
        """The zero at that instant, cents; further from every note than the line can be believed it stays."""
        return self.at(clip(at_s, float(self.starts_s[0]) - HALF_S, float(self.starts_s[-1]) + HALF_S))[0]

    def mean(self) -> tuple[float, float]:
        """Weighted mean, and its standard error, or how far they drift if that is more; there must be one at least.

        One note alone is as uncertain as any single note; a drift is half of what lies between both halves.
        """
        shares = self.weights / np.sum(self.weights)
        mean = float(shares @ self.offs)
        notes = 1.0 / float(shares @ shares)
        error = math.sqrt(float(shares @ (self.offs - mean) ** 2) / notes + _UNSTEADY_CENTS**2 / notes**2)
        half = len(self) // 2
        if half < LEAST_FOR_DRIFT:
            return mean, error
        halves = (slice(half), slice(half, None))
        early, late = (np.average(self.offs[part], weights=self.weights[part]) for part in halves)
        return mean, max(error, abs(float(late - early)) / 2.0)

    def without(self, these: NDArray[np.bool_]) -> Telling:
        """The same without some."""
        kept = ~these
        return Telling(self.offs[kept], self.weights[kept], self.starts_s[kept], self.degrees[kept], self.roots)

    def beside(self, zero_at: ZeroAt) -> Telling:
        """The same, seen from a zero that may move."""
        offs = self.offs - np.array([zero_at(at_s) for at_s in self.starts_s.tolist()])
        return Telling(offs, self.weights, self.starts_s, self.degrees, self.roots)


def telling(held: Sequence[Held], harp: Harp) -> Telling:
    """The notes of ``held`` that tell the zero, roots if there are any, given the harp with a zero that is near."""
    roots = _straight(held, harp, _still, _is_root)
    return roots if len(roots) else _straight(held, harp, _still, _is_other)


def telling_all_along(held: Sequence[Held], harp: Harp) -> Telling:
    """The same, looked for not around one zero but around where it has come to at each moment.

    Where most of them lie close together the zero is known; from there it is followed to both ends. A way on which
    fewer are found than around the one zero is none.
    """
    still = telling(held, harp)
    if not len(still):
        return still
    wanted = _is_root if still.roots else _is_other
    close = [float(still.weights @ 0.5 ** (np.abs(still.starts_s - at_s) / HALF_S)) for at_s in still.starts_s]
    middle_s = float(still.starts_s[int(np.argmax(close))])
    told = _followed(held, harp, still.without(np.abs(still.starts_s - middle_s) > HALF_S), wanted)
    for _ in range(_MOST_LOOKS):
        again = _straight(held, harp, told.led_to, wanted)
        if np.array_equal(again.starts_s, told.starts_s):
            break
        told = again
    return told if len(told) >= len(still) else still


def others_apart(told: Telling, held: Sequence[Held], harp: Harp, zero_at: ZeroAt) -> tuple[float, float, int] | None:
    """Where the other straight notes of ``held`` disagree with its roots, which put the zero at ``zero_at``.

    None where they do not, or tell nothing; else how far the others lie above the roots, cents, the standard error of
    that mean, and how many they are.
    """
    others = _straight(held, harp, zero_at, _is_other)
    if not told.roots or len(others) < _LEAST_OTHERS or len(set(others.degrees.tolist())) < _LEAST_OTHER_REEDS:
        return None
    above, error = others.beside(zero_at).mean()
    if abs(above) <= max(_APART_CENTS, _APART_ERRORS * math.hypot(error, told.beside(zero_at).mean()[1])):
        return None
    return above, error, len(others)


def _still(_at_s: float) -> float:
    return 0.0


def _is_root(degree: int) -> bool:
    return degree == 0


def _is_other(degree: int) -> bool:
    return degree != 0 and degree not in _THIRDS


def _followed(held: Sequence[Held], harp: Harp, known: Telling, wanted: _Wanted) -> Telling:
    """From the notes that are known to both ends: each one looked for where those before it have led."""
    first_s, last_s = float(known.starts_s[0]), float(known.starts_s[-1])
    later = [note for note in held if note.start_s > last_s]
    earlier = [note for note in reversed(held) if note.start_s < first_s]
    told = known
    for note in [*later, *earlier]:
        found = _straight([note], harp, told.led_to, wanted)
        if len(found):
            told = _joined([found, told] if note.start_s < first_s else [told, found])
    return told


def _joined(parts: Sequence[Telling]) -> Telling:
    return Telling(
        np.concatenate([part.offs for part in parts]),
        np.concatenate([part.weights for part in parts]),
        np.concatenate([part.starts_s for part in parts]),
        np.concatenate([part.degrees for part in parts]),
        roots=all(part.roots for part in parts),
    )


def _straight(held: Iterable[Held], harp: Harp, zero_at: ZeroAt, wanted: _Wanted) -> Telling:
    """The straight notes on wanted reeds, looked for around ``zero_at``."""
    found = [(note, *off) for note in held if (off := _offset(note, harp, zero_at(note.start_s))) is not None]
    kept = [(note, cents, degree) for note, cents, degree in found if wanted(degree)]
    return Telling(
        np.array([cents for _, cents, _ in kept]),
        np.array([_weight(note) for note, _, _ in kept]),
        np.array([note.start_s for note, _, _ in kept]),
        np.array([degree for _, _, degree in kept], np.intp),
        roots=all(degree == 0 for _, _, degree in kept),
    )


def _offset(note: Held, harp: Harp, around: float) -> tuple[float, int] | None:
    """Cents from the straight reed that ``note`` is, and its semitones above the root; None for a bent or loose one."""
    cents = cents_between(note.hz, harp.hole1_hz)
    reed = min(harp.reeds, key=lambda reed: abs(cents - around - reed.cents))
    if abs(cents - around - reed.cents) > _REACH_CENTS or note.spread_cents > _STEADY_CENTS:
        return None
    return cents - reed.cents, (reed.semitones - root_semitones(harp.position)) % _SEMITONES_PER_OCTAVE


def _weight(note: Held) -> float:
    """One over the variance of what this note tells, cents squared."""
    swings = max(1.0, note.length_s / _SWING_S)
    return 1.0 / (_UNSTEADY_CENTS**2 + note.spread_cents**2 / swings)
