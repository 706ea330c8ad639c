"""Which harp a phrase was played on, in which position, and where its zero lies.

Every harp in every position, at every pitch of its A4, is asked how well it explains the pitches held (``explaining``).
The one that explains them best is the answer; its share of all that was explained is the certainty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bridge.base.errors import UserError
from bridge.base.units import MIDI_A4_HZ, hz_above
from bridge.harp.harp import Harp, make_harp
from bridge.harp.keys import KEYS
from bridge.harp.positions import position_name
from bridge.study.explaining import ZEROS, harp_chances
from bridge.study.held import Held, different_pitches
from bridge.study.zero import find_zero

#: From here on the answer can be relied upon; below it is marked uncertain.
SURE = 0.9
#: Fewer held pitches than this, or fewer different ones, tell nothing.
LEAST_HELD, LEAST_DIFFERENT = 6, 3


@dataclass(frozen=True, slots=True)
class Candidate:
    """A harp key and a position with the certainty, 0..1, that it is the one."""

    key: str
    position: int
    certainty: float

    @property
    def name(self) -> str:
        """What to call it in one line: ``Bb harp, cross position``."""
        return f"{self.key} harp, {position_name(self.position)} position"


@dataclass(frozen=True, slots=True)
class Likely:
    """The most likely harp.

    ``a4_hz`` puts the root where it was heard; ``a4_spread_cents`` is one standard deviation of that. ``certainty`` is
    0..1, and the ``runner_up`` has its own.
    """

    key: str
    position: int
    a4_hz: float
    a4_spread_cents: float
    certainty: float
    runner_up: Candidate

    @property
    def sure(self) -> bool:
        """Whether it can be relied upon; otherwise it must be shown as uncertain, beside the runner-up."""
        return self.certainty >= SURE


def likely_harp(held: Sequence[Held], kind: Harp | None = None, *, goes_on: bool = False) -> Likely:
    """The most likely key, position and A4 for the pitches held in one phrase or recording, in order.

    ``kind`` is a harp of the kind that was played: its layout and the tuning of its reeds count, its key, position and
    A4 do not (default: the ten-hole diatonic, equally tempered). ``goes_on`` is whether the player only rests, so that
    the last pitch need not end the phrase. Raises UserError when too few pitches were held.
    """
    _require_enough(held)
    model = kind or make_harp("C", 1, MIDI_A4_HZ)
    chances = harp_chances(held, model, goes_on=goes_on)
    by_harp = chances.sum(axis=1)
    order = np.argsort(by_harp, axis=None)[::-1]
    (key, position), (next_key, next_position) = (np.unravel_index(int(place), by_harp.shape) for place in order[:2])
    zeros = chances[key, :, position] / by_harp[key, position]
    middle = float(zeros @ ZEROS)
    a4_hz = hz_above(MIDI_A4_HZ, middle)
    harp = make_harp(KEYS[key].name, int(position) + 1, a4_hz, model.layout, model.temperament)
    zero = find_zero(held, harp)
    return Likely(
        harp.key,
        harp.position,
        zero.a4_hz if zero else harp.a4_hz,
        zero.spread_cents if zero else float(np.sqrt(zeros @ (ZEROS - middle) ** 2)),
        float(by_harp[key, position]),
        Candidate(KEYS[next_key].name, int(next_position) + 1, float(by_harp[next_key, next_position])),
    )


def _require_enough(held: Sequence[Held]) -> None:
    different = different_pitches(held)
    if len(held) < LEAST_HELD or different < LEAST_DIFFERENT:
        raise UserError(
            f"Too few notes to tell the harp: {len(held)} held, at {different} different pitches. It takes a phrase of "
            f"at least {LEAST_HELD} notes at {LEAST_DIFFERENT} pitches; or name the harp."
        )
