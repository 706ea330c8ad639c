"""Where the root lies: what every pitch is heard from."""

from __future__ import annotations

import math

from bridge.base.units import CENTS_PER_OCTAVE


class Root:
    """The root at ``hz``, and ``bend_range_cents``, how far a note on it may bend; both may move between two notes."""

    def __init__(self, hz: float, bend_range_cents: float) -> None:
        self._log2 = math.log2(hz)
        self._next: tuple[float, float] | None = None
        self.bend_range_cents = bend_range_cents

    def cents(self, hz: float) -> float:
        """How far a pitch in Hz lies above the root, cents."""
        return CENTS_PER_OCTAVE * (math.log2(hz) - self._log2)

    def tune(self, hz: float, bend_range_cents: float) -> None:
        """Lie at another pitch from the next note on: :meth:`go_on` says when that is."""
        self._next = math.log2(hz), bend_range_cents

    def go_on(self) -> None:
        """No note sounds: what comes is heard from the root as it was tuned."""
        if self._next is not None:
            self._log2, self.bend_range_cents = self._next
            self._next = None
