"""Where a note settles: after its scoop, before its release, in the middle of its vibrato."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bridge.takes.edited import EditedNote

#: A curve is looked at in steps of this, seconds: many to a period of vibrato (4 to 8 Hz; facts of the trade).
STEP_S = 0.005
#: A whole period of the slowest vibrato: its middle is the mean over that, seconds.
_PERIOD_S = 0.25
#: What stays within this, vibrato taken out, is at one place, cents: half of the way from minor to major third is not.
_PLACE_CENTS = 40.0
#: A note that begins or ends this near to where it settles has no scoop or release, cents: a quarter tone has.
_NEAR_CENTS = 25.0


@dataclass(frozen=True, slots=True)
class Settled:
    """A note stays at ``bend_cents`` from ``from_s`` to ``to_s``, seconds from its start; before is its scoop.

    Both are the whole note's where it neither scoops in nor is let go.
    """

    from_s: float
    to_s: float
    bend_cents: float


def bends_of(note: EditedNote) -> NDArray[np.float64]:
    """The curve at even steps of about :data:`STEP_S` from start to end, cents, shape (n,), n at least 2."""
    times = np.linspace(0.0, note.length_s, max(2, round(note.length_s / STEP_S) + 1))
    corners_s, corners, _ = note.columns
    bends: NDArray[np.float64] = np.interp(times, corners_s, corners)
    return bends


def settled(note: EditedNote) -> Settled:
    """Where the note settles: the middle of the place where, vibrato taken out, it stays longest; the lower of two."""
    bends = bends_of(note)
    reach = min(round(0.5 * _PERIOD_S / STEP_S), len(bends) // 4)
    middle = _running_mean(bends, reach)
    ordered = np.sort(middle)
    counts = np.searchsorted(ordered, ordered + _PLACE_CENTS, side="right") - np.arange(len(ordered))
    low = ordered[int(np.argmax(counts))]
    there = np.sort(bends[(middle >= low) & (middle <= low + _PLACE_CENTS)])
    middle_bend = float(there[(len(there) - 1) // 2])
    near_first = abs(note.at(0.0).bend_cents - middle_bend) <= _NEAR_CENTS
    near_last = abs(note.at(note.length_s).bend_cents - middle_bend) <= _NEAR_CENTS
    crossings = _crossings(note, middle_bend)
    from_s = 0.0 if near_first or not crossings else crossings[0]
    to_s = note.length_s if near_last or not crossings else crossings[-1]
    return Settled(from_s, max(from_s, to_s), middle_bend)


def _running_mean(values: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """The mean of each value and ``reach`` neighbours on either side, fewer at the ends; the same shape (n,)."""
    sums = np.concatenate(([0.0], np.cumsum(values)))
    places = np.arange(len(values))
    first, last = np.maximum(places - reach, 0), np.minimum(places + reach + 1, len(values))
    mean: NDArray[np.float64] = (sums[last] - sums[first]) / (last - first)
    return mean


def _crossings(note: EditedNote, middle_bend: float) -> list[float]:
    """When the curve is at ``middle_bend``, seconds from the start: at each corner on it and each way across it."""
    times, bends, _ = note.columns.tolist()
    corners = list(zip(times, bends, strict=True))
    found = [at_s for at_s, bend in corners if bend == middle_bend]
    for (before_s, before), (after_s, after) in pairwise(corners):
        if (before - middle_bend) * (after - middle_bend) < 0.0:
            part = (middle_bend - before) / (after - before)
            found.append(before_s + part * (after_s - before_s))
    return sorted(at_s for at_s in found if 0.0 <= at_s <= note.length_s)
