"""Where the zero of a recording lies: its A4, from the roots that were held.

An old recording runs fast or slow and may drift while it runs, and a harp has a pitch of its own. The notes that tell
it best are the roots, since every interval is heard from there; but where the other straight notes agree on another
zero, the roots were bent or their reed is off, and the others are believed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.base.units import cents_between, hz_above
from bridge.harp.harp import Harp
from bridge.study.held import Held
from bridge.study.telling import HALF_S, LEAST_FOR_DRIFT, Telling, others_apart, telling, telling_all_along

#: A drift must leave so much less of the scatter than one zero does, and be wider than the reeds of one harp differ.
_BETTER, _LEAST_DRIFT_CENTS = 0.8, 10.0


@dataclass(frozen=True, slots=True)
class Zero:
    """``a4_hz`` with its uncertainty, one standard deviation in cents.

    ``notes`` is how many straight notes told it, ``roots`` whether they were roots. ``roots_off_cents`` is how far the
    roots lie above it where they were not believed, and 0 where they were or none was held.
    """

    a4_hz: float
    spread_cents: float
    notes: int
    roots: bool = True
    roots_off_cents: float = 0.0


@dataclass(frozen=True, slots=True)
class Drift:
    """A zero that moves: ``a4`` is A4 in Hz at some instants in seconds, in order; the rest as in :class:`Zero`.

    ``spread_cents`` is that at the least certain of the instants.
    """

    a4: tuple[tuple[float, float], ...]
    spread_cents: float
    notes: int
    roots: bool = True
    roots_off_cents: float = 0.0

    @property
    def cents(self) -> float:
        """From the lowest A4 to the highest."""
        every = [hz for _, hz in self.a4]
        return cents_between(max(every), min(every))


def find_zero(held: Sequence[Held], harp: Harp) -> Zero | None:
    """The zero of ``held``, in the order of time, given the harp with an A4 that is right within some 30 cents.

    It is the mean over the roots that a straight reed gives. Without any, or where they do not agree with the others,
    it is that over every straight reed but the third, which is the player's to bend: then it may be off by half of what
    lies between. None where no straight reed was held.
    """
    told = telling(held, harp)
    if not len(told):
        return None
    cents, spread = told.mean()
    apart = others_apart(told, held, harp, lambda _: cents)
    if apart is None:
        return Zero(hz_above(harp.a4_hz, cents), spread, len(told), roots=told.roots)
    above, error, others = apart
    return Zero(hz_above(harp.a4_hz, cents + above), _unsure(above, error), others, roots=False, roots_off_cents=-above)


def find_drift(held: Sequence[Held], harp: Harp) -> Drift | None:
    """How the zero of ``held`` moves, given the harp with an A4 that is right somewhere; None where it stays.

    It moves where each root is told better by the roots near it than by all of them, and by more than the reeds of one
    harp differ. What is given reaches from the first of ``held`` to the last.
    """
    told = telling_all_along(held, harp)
    if len(told) < 2 * LEAST_FOR_DRIFT or not _drifts(told):
        return None
    first_s, last_s = held[0].start_s, held[-1].start_s + held[-1].length_s
    times = np.linspace(first_s, last_s, 2 + int((last_s - first_s) / HALF_S))
    spread = max(told.at(at_s)[1] for at_s in [*times, *told.starts_s])
    apart = others_apart(told, held, harp, told.led_to)
    above, error, notes = apart or (0.0, 0.0, len(told))
    a4 = tuple((float(at_s), hz_above(harp.a4_hz, told.led_to(at_s) + above)) for at_s in times.tolist())
    if apart is None:
        return Drift(a4, spread, notes, roots=told.roots)
    return Drift(a4, max(spread, _unsure(above, error)), notes, roots=False, roots_off_cents=-above)


def _drifts(told: Telling) -> bool:
    alone = np.eye(len(told), dtype=bool)
    from_near = np.array([told.without(one).at(start)[0] for one, start in zip(alone, told.starts_s, strict=True)])
    from_all = np.array([np.average(told.offs[~one], weights=told.weights[~one]) for one in alone])
    left, left_of_all = (float(told.weights @ (told.offs - guess) ** 2) for guess in (from_near, from_all))
    cents = [told.at(at_s)[0] for at_s in told.starts_s]
    return left <= _BETTER * left_of_all and max(cents) - min(cents) >= _LEAST_DRIFT_CENTS


def _unsure(above: float, error: float) -> float:
    """How uncertain a zero is that the others put ``above`` the roots, cents: nobody knows who is right."""
    return max(error, abs(above) / 2.0)
