"""The most likely harp of old dance tunes, played as they stand in two printed collections.

Source of notes, keys and modes: music21's corpus (Aird's Airs, 1782 and later; O'Neill's Music of Ireland, 1850 tunes).
A tune of a major key lies in first position on the harp of that key, a mixolydian one in second, a dorian one in third
(common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from music21 import corpus
from music21.key import Key
from music21.note import Note

from bridge.base.units import midi_to_hz
from bridge.harp.harp import Harp, make_harp
from bridge.study.held import Held
from bridge.study.likely_harp import likely_harp

POSITIONS = {"major": 1, "mixolydian": 2, "dorian": 3}
NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
BOOKS = (("oneills1850/0001-0050.abc", range(1, 51)), ("airdsAirs/book1.abc", range(1, 60)))
QUARTER_S = 0.4


@dataclass(frozen=True)
class Tune:
    """A tune and the harp that has all of its notes without bending."""

    title: str
    harp: Harp
    held: tuple[Held, ...]


@pytest.fixture(scope="module")
def tunes() -> list[Tune]:
    """Every tune of the books that a harp of its key and mode has unbent in some octave."""
    found = [read_tune(book, number) for book, numbers in BOOKS for number in numbers]
    return [tune for tune in found if tune is not None]


def read_tune(book: str, number: int) -> Tune | None:
    """One tune of a book; None without one key and mode, or with notes that the harp has not."""
    score = corpus.parse(book, number=number).flatten()
    keys = list(score.getElementsByClass(Key))
    if len(keys) != 1 or keys[0].mode not in POSITIONS:
        return None
    position = POSITIONS[keys[0].mode]
    name = NAMES[(keys[0].tonic.pitchClass - 7 * (position - 1)) % 12]
    harp = make_harp(name, position, 440.0)
    notes = [note for note in score.getElementsByClass(Note) if note.quarterLength > 0]
    straight = {harp.hole1_midi + reed.semitones for reed in harp.reeds}
    for octave in (0, 12, -12):
        pitches = [note.pitch.midi + octave for note in notes]
        if straight.issuperset(pitches):
            lengths = [QUARTER_S * float(note.quarterLength) for note in notes]
            held = tuple(Held(midi_to_hz(midi), length, 3.0) for midi, length in zip(pitches, lengths, strict=True))
            return Tune(f"{book} {number}", harp, held)
    return None


def test_tunes_of_old_books_are_found(tunes: list[Tune]) -> None:
    """At least 8 in 10 have the harp of their key and mode; what is wrong is marked uncertain."""
    assert len(tunes) > 40
    assert {tune.harp.position for tune in tunes} == {1, 2, 3}
    assert {tune.harp.key for tune in tunes} >= {"G", "D", "C"}
    wrong = []
    for tune in tunes:
        found = likely_harp(tune.held)
        if (found.key, found.position) != (tune.harp.key, tune.harp.position):
            wrong.append((tune.title, tune.harp.name, found))
    assert len(wrong) <= 0.2 * len(tunes), wrong
    assert not [each for *_, each in wrong if each.sure]
