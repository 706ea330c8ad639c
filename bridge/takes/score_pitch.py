"""Pitches as a score spells them: over the root of the position, with a quarter tone where the third needs one.

A key signature tells the reader the tonic, so it is that of the root: its major key, or its minor key where the
straight harp has no major third there, as in third position (common practice of blues charts, no source). A quarter
tone half way between the minor and the major third has the letter of the third.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from bridge.base.units import cents_between, midi_to_hz
from bridge.harp.harp import MAJOR_THIRD, Harp
from bridge.harp.note_names import letter
from bridge.harp.positions import root_semitones
from bridge.quantise.scales import DEGREES
from bridge.takes.edited import EditedNote

#: The degrees that a quarter tone below them may be written for, and their semitones above the root.
_BLUE = {"3": 4, "5": 7, "7": 11}
_CENTS = 100.0
_SEMITONES = 12
_SIGNS = {"": 0.0, "b": -1.0, "#": 1.0}
#: Sharps (flats below 0) of the major keys; a minor key has three fewer.
_FIFTHS = {"C": 0, "Db": -5, "D": 2, "Eb": -3, "E": 4, "F": -1, "F#": 6, "G": 1, "Ab": -4, "A": 3, "Bb": -2, "B": 5}
_MINOR_FIFTHS = -3
#: Minor keys of more than six flats are written as these.
_SHARP_MINOR = {"Db": "C#", "Ab": "G#"}
_LOWEST_MIDI, _HIGHEST_MIDI = 0, 127


@dataclass(frozen=True, slots=True)
class Pitch:
    """A note as it is written: the letter, semitones it is altered by (halves are quarter tones), and its octave."""

    step: str
    alter: float
    octave: int


@dataclass(frozen=True, slots=True)
class Signature:
    """A key signature: sharps, or flats below 0, and the mode."""

    fifths: int
    mode: Literal["major", "minor"]

    def alter(self, step: str) -> float:
        """What it makes of a letter, in semitones."""
        sharps = "FCGDAEB"
        if self.fifths >= 0:
            return 1.0 if step in sharps[: self.fifths] else 0.0
        return -1.0 if step in sharps[self.fifths :] else 0.0


@dataclass(frozen=True, slots=True)
class Speller:
    """How pitches are spelled on one harp (None: unknown): over the root, which is ``sharp_cents`` above its note."""

    harp: Harp | None
    root_midi: int | None
    root_name: str | None
    sharp_cents: float
    signature: Signature | None
    blue: frozenset[int]

    def pitch(self, cents: float) -> Pitch:
        """The semitone, or where it may be the quarter tone, nearest to ``cents`` (100 a MIDI note, A4 = 6900)."""
        at = (cents - self.sharp_cents) / _CENTS
        semitone = round(at)
        quarter = self._blue_above(at)
        if quarter is not None and abs(at - quarter + 0.5) < abs(at - semitone):
            return self._spelled(quarter, -0.5)
        return self._spelled(semitone, 0.0)

    def _blue_above(self, at: float) -> int | None:
        """The note next above ``at`` if a quarter tone below it may be written."""
        above = int(-(-at // 1.0))
        if self.root_midi is None or (above - self.root_midi) % _SEMITONES not in self.blue:
            return None
        return above

    def _spelled(self, midi: int, more: float) -> Pitch:
        midi = min(max(midi, _LOWEST_MIDI), _HIGHEST_MIDI)
        name = letter(midi, self.root_midi, self.root_name)
        return Pitch(name[0], _SIGNS[name[1:]] + more, midi // _SEMITONES - 1)


def speller(harp: Harp | None, notes: Sequence[EditedNote], also_blue: Collection[Literal["5", "7"]] = ()) -> Speller:
    """How to spell what is played on ``harp``; without one, over the root that most degrees of ``notes`` agree on.

    ``also_blue`` are the degrees besides the third that are written a quarter tone flat where they are played so.
    """
    blue = frozenset(_BLUE[degree] for degree in ("3", *also_blue))
    if harp is None:
        return Speller(None, _agreed_root(notes), None, 0.0, None, blue)
    offset = cents_between(harp.root_hz, midi_to_hz(harp.root_midi, harp.a4_hz))
    name = letter(harp.root_midi)
    if harp.straight_reed(root_semitones(harp.position) + MAJOR_THIRD) is not None:
        return Speller(harp, harp.root_midi, name, offset, Signature(_FIFTHS[name], "major"), blue)
    fifths = _FIFTHS[name] + _MINOR_FIFTHS
    if name in _SHARP_MINOR:
        name, fifths = _SHARP_MINOR[name], fifths + _SEMITONES
    return Speller(harp, harp.root_midi, name, offset, Signature(fifths, "minor"), blue)


def _agreed_root(notes: Sequence[EditedNote]) -> int | None:
    """The pitch class, 0..11, that is the root to most notes; None where no note has a degree."""
    votes = Counter(
        (note.midi_note - DEGREES.index(note.degree)) % _SEMITONES for note in notes if note.degree in DEGREES
    )
    return votes.most_common(1)[0][0] if votes else None
