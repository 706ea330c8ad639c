"""Names of notes, over the root they are played over."""

from __future__ import annotations

import librosa
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21.scale import MajorScale, MinorScale

from bridge.harp.note_names import letter, note_name, with_article

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
#: What nobody reads at once has a plain name.
PLAIN = {"E#": "F", "Cb": "B", "Fb": "E", "B#": "C"}


@given(st.integers(0, 127))
def test_note_names_are_those_of_librosa(note: int) -> None:
    """Names are in scientific pitch notation, as librosa writes it, sharps spelled as the trade's flats."""
    spelled = {"C#": "Db", "D#": "Eb", "G#": "Ab", "A#": "Bb"}
    name = librosa.midi_to_note(note, unicode=False)
    letter = name.rstrip("-0123456789")
    assert note_name(note) == spelled.get(letter, letter) + name[len(letter) :]


@pytest.mark.parametrize("root", ROOTS)
def test_the_major_scale_is_spelled_as_music21_spells_it(root: str) -> None:
    """All seven degrees over every root, each with a letter of its own."""
    pitches = [pitch.name.replace("-", "b") for pitch in MajorScale(root.replace("b", "-")).pitches[:7]]  # type: ignore[no-untyped-call]
    steps = (0, 2, 4, 5, 7, 9, 11)
    spelled = [letter(60 + ROOTS.index(root) + step, 48 + ROOTS.index(root)) for step in steps]
    assert spelled == [PLAIN.get(name, name) for name in pitches]


@pytest.mark.parametrize(
    ("root", "step", "name"),
    [("E", 3, "G"), ("E", 10, "D"), ("G", 3, "Bb"), ("G", 6, "Db"), ("A", 3, "C"), ("Bb", 3, "Db"), ("Ab", 3, "B")],
)
def test_blue_degrees_are_spelled_as_flat_ones(root: str, step: int, name: str) -> None:
    """The minor third, the flat fifth and the minor seventh have the letters of third, fifth and seventh."""
    assert letter(ROOTS.index(root) + step, ROOTS.index(root)) == name


def test_a_root_may_have_another_name() -> None:
    """Over C sharp the minor scale is that of E major, as music21 spells it, not one of flats."""
    pitches = [pitch.name.replace("-", "b") for pitch in MinorScale("C#").pitches[:7]]  # type: ignore[no-untyped-call]
    assert [letter(61 + step, 61, "C#") for step in (0, 2, 3, 5, 7, 8, 10)] == pitches


@given(st.integers(0, 127), st.integers(0, 127))
def test_a_name_is_the_note_whatever_the_root(note: int, root: int) -> None:
    """Librosa reads every name as the note it is of."""
    assert librosa.note_to_midi(note_name(note, root)) == note


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("A harp, cross position", "an A harp, cross position"),
        *((key, f"an {key}") for key in ("Ab", "E", "Eb", "F", "F#")),
        *((key, f"a {key}") for key in ("B", "Bb", "C", "D", "G", "low-F", "high-G", "Added harp", "Fifth harp")),
    ],
)
def test_a_note_has_its_article_by_its_sound(name: str, said: str) -> None:
    """An A, an F sharp, but a low F."""
    assert with_article(name) == said
