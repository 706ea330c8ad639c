"""A harp in the hand: its key, position and pitch, and every reed with its frequency."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.base.units import hz_above, midi_to_hz
from bridge.harp.bends import Air, straight_notes
from bridge.harp.keys import find_key
from bridge.harp.layout import Layout, find_layout
from bridge.harp.positions import find_position, position_name, root_semitones

_CENTS_PER_SEMITONE = 100.0


@dataclass(frozen=True, slots=True)
class Reed:
    """One reed: hole from 1, its air, ``cents`` above the equal-tempered hole-1 blow, and its frequency in Hz."""

    hole: int
    air: Air
    cents: float
    hz: float


@dataclass(frozen=True, slots=True)
class Harp:
    """A harp, tuned equally to its A4.

    ``hole1_midi`` and ``hole1_hz`` are the MIDI note and the frequency of hole-1 blow; ``reeds`` go hole by hole,
    blow first.
    """

    key: str
    position: int
    a4_hz: float
    layout: Layout
    hole1_midi: int
    hole1_hz: float
    reeds: tuple[Reed, ...]

    @property
    def name(self) -> str:
        """What to call it in one line: ``Bb harp, cross position``."""
        return f"{self.key} harp, {position_name(self.position)} position"

    @property
    def root_midi(self) -> int:
        """MIDI note of the position's root: at hole-1 blow or less than an octave above it."""
        return self.hole1_midi + root_semitones(self.position)

    @property
    def root_hz(self) -> float:
        """Frequency of the position's root, Hz."""
        return midi_to_hz(self.root_midi, self.a4_hz)

    @property
    def lowest_hz(self) -> float:
        """Frequency of the lowest straight reed, Hz."""
        return min(reed.hz for reed in self.reeds)

    @property
    def highest_hz(self) -> float:
        """Frequency of the highest straight reed, Hz."""
        return max(reed.hz for reed in self.reeds)


def make_harp(key: str, position: int | str, a4_hz: float, layout: str = "richter") -> Harp:
    """The harp in ``key``, played in ``position``, tuned to ``a4_hz`` (Hz).

    Raises UserError listing what is allowed when there is no such key, position or layout.
    """
    found, notes = find_key(key), find_layout(layout)
    hole1_hz = midi_to_hz(found.midi_note, a4_hz)
    cents = [(sound, sound.semitones * _CENTS_PER_SEMITONE) for sound in straight_notes(notes)]
    reeds = tuple(Reed(sound.hole, sound.air, above, hz_above(hole1_hz, above)) for sound, above in cents)
    return Harp(found.name, find_position(position), a4_hz, notes, found.midi_note, hole1_hz, reeds)
