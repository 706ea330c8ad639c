"""A harp in the hand: its key, position, pitch and temperament, and every reed with its frequency."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.base.units import cents_between, hz_above, midi_to_hz
from bridge.harp.bends import Air, straight_notes
from bridge.harp.keys import find_key
from bridge.harp.layout import RICHTER, Layout
from bridge.harp.positions import find_position, position_name, root_semitones
from bridge.harp.temperaments import Temperament, offset_cents

_CENTS_PER_SEMITONE = 100.0
_SEMITONES_PER_OCTAVE = 12
#: Semitones.
MAJOR_THIRD = 4

#: Offsets heard on a harp, cents from equal temperament, by hole (from 1) and air.
Offsets = Mapping[tuple[int, Air], float]


@dataclass(frozen=True, slots=True)
class Reed:
    """One reed: hole from 1, its air, the note it is named for in ``semitones`` above hole-1 blow, and its frequency.

    ``offset_cents`` is how far it lies from that note in equal temperament; ``measured`` that this was heard on the
    harp itself and does not come from a temperament.
    """

    hole: int
    air: Air
    semitones: int
    offset_cents: float
    hz: float
    measured: bool

    @property
    def cents(self) -> float:
        """Cents above the equal-tempered hole-1 blow."""
        return self.semitones * _CENTS_PER_SEMITONE + self.offset_cents


@dataclass(frozen=True, slots=True)
class Harp:
    """A harp, its A4 in Hz that of equal temperament, from which ``temperament`` or measuring moves each reed.

    ``hole1_midi`` and ``hole1_hz`` are the MIDI note of hole-1 blow and its frequency in equal temperament; ``reeds``
    go hole by hole, blow first.
    """

    key: str
    position: int
    a4_hz: float
    layout: Layout
    temperament: Temperament
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
        """Frequency, Hz, of the root as the player's own straight reed gives it, in the octave of ``root_midi``.

        Where no straight reed gives the root it is that of equal temperament.
        """
        return hz_above(midi_to_hz(self.root_midi, self.a4_hz), self.root_offset_cents)

    @property
    def sharp_cents(self) -> float:
        """How far the root lies above its note where A4 is 440 Hz, in cents."""
        return cents_between(self.root_hz, midi_to_hz(self.root_midi))

    @property
    def lowest_hz(self) -> float:
        """Frequency of the lowest straight reed, Hz."""
        return min(reed.hz for reed in self.reeds)

    @property
    def highest_hz(self) -> float:
        """Frequency of the highest straight reed, Hz."""
        return max(reed.hz for reed in self.reeds)

    def straight_reed(self, semitones: int) -> Reed | None:
        """The reed that gives the note ``semitones`` above hole-1 blow, in any octave, without bending.

        One that was measured comes first, then the lowest, of two with one note the drawn one; None if there is none.
        """
        reeds = [reed for reed in self.reeds if (reed.semitones - semitones) % _SEMITONES_PER_OCTAVE == 0]
        return min(reeds, key=lambda reed: (not reed.measured, reed.semitones, reed.air == "blow"), default=None)

    def straight_third_cents(self) -> float:
        """Cents above the root of the position's straight third.

        400 where no straight reed gives a major third (common practice, no source: third position, for one).
        """
        third = self.straight_reed(root_semitones(self.position) + MAJOR_THIRD)
        equal = MAJOR_THIRD * _CENTS_PER_SEMITONE
        return equal if third is None else equal + third.offset_cents - self.root_offset_cents

    def in_key(self, key: str) -> Harp:
        """A harp in another key, otherwise alike; what was measured on this one does not go over to it.

        Raises UserError listing the keys when there is no such key.
        """
        return make_harp(key, self.position, self.a4_hz, self.layout, self.temperament)

    @property
    def root_offset_cents(self) -> float:
        """Cents of the straight root reed from equal temperament, 0 where there is none."""
        root = self.straight_reed(root_semitones(self.position))
        return 0.0 if root is None else root.offset_cents


def make_harp(
    key: str,
    position: int | str,
    a4_hz: float,
    layout: Layout = RICHTER,
    temperament: Temperament = "equal",
    measured: Offsets | None = None,
) -> Harp:
    """The harp in ``key``, played in ``position``, tuned to ``a4_hz`` (Hz).

    ``measured`` gives the reeds whose offsets are known from listening; the others follow ``temperament``.
    Raises UserError listing what is allowed when there is no such key or position.
    """
    found, heard = find_key(key), measured or {}
    hole1_hz = midi_to_hz(found.midi_note, a4_hz)

    def reed(hole: int, air: Air, semitones: int) -> Reed:
        offset = heard.get((hole, air), offset_cents(temperament, semitones))
        hz = hz_above(hole1_hz, semitones * _CENTS_PER_SEMITONE + offset)
        return Reed(hole, air, semitones, offset, hz, (hole, air) in heard)

    reeds = tuple(reed(sound.hole, sound.air, sound.semitones) for sound in straight_notes(layout))
    return Harp(found.name, find_position(position), a4_hz, layout, temperament, found.midi_note, hole1_hz, reeds)
