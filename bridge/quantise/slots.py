"""Slots: the scale degrees, where each one's note number sits and which cents belong to it."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

from bridge.base.units import CENTS_PER_OCTAVE


@dataclass(frozen=True, slots=True)
class Slot:
    """One scale degree, in cents above the root of its octave.

    A pitch from ``low`` to below ``high`` enters the slot; once in it, it stays from ``stay_low`` to ``stay_high``.
    ``anchor`` is where the note number sits.
    """

    degree: str
    anchor: float
    low: float
    high: float
    stay_low: float
    stay_high: float


@dataclass(frozen=True, slots=True)
class Place:
    """A slot in a certain octave: 0 is the octave that begins at the root."""

    slot: Slot
    octave: int

    @property
    def anchor(self) -> float:
        """Cents of the slot's anchor above the root."""
        return self.slot.anchor + CENTS_PER_OCTAVE * self.octave

    def keeps(self, cents: float, margin: float = 0.0) -> bool:
        """Whether a pitch already in the slot stays in it, the slot widened by ``margin`` cents on both sides."""
        within = cents - CENTS_PER_OCTAVE * self.octave
        return self.slot.stay_low - margin <= within <= self.slot.stay_high + margin


class Scale:
    """Slots that share the octave out without gap or overlap, lowest first."""

    def __init__(self, name: str, slots: tuple[Slot, ...]) -> None:
        self.name = name
        self.slots = slots
        self._lows = [slot.low for slot in slots]

    def place(self, cents: float) -> Place:
        """The slot that holds a pitch ``cents`` above the root, any octave."""
        octave, within = divmod(cents - self._lows[0], CENTS_PER_OCTAVE)
        return Place(self.slots[bisect_right(self._lows, self._lows[0] + within) - 1], int(octave))

    def nearest(self, cents: float) -> Place:
        """The slot whose anchor lies nearest to ``cents`` above the root, any octave."""
        octave = int(cents // CENTS_PER_OCTAVE)
        places = (Place(slot, at) for at in (octave - 1, octave, octave + 1) for slot in self.slots)
        return min(places, key=lambda place: abs(cents - place.anchor))
