"""Keys of harps against outside note names and published frequencies."""

from __future__ import annotations

import pytest
from librosa import note_to_midi

from bridge.base.errors import UserError
from bridge.harp.harp import make_harp
from bridge.harp.keys import KEYS, find_key

# Hole-1 blow, equal temperament, A4 = 440: 440 * 2**((n - 69) / 12) to the hundredth (MIDI 1.0, 4.2.1).
HOLE_1_HZ = {
    "low-C": 130.81,
    "low-F": 174.61,
    "G": 196.00,
    "A": 220.00,
    "C": 261.63,
    "D": 293.66,
    "F": 349.23,
    "high-G": 392.00,
}
# Keys G to B start below middle C, C to F# from it upwards (common practice, no source).
SCIENTIFIC = {
    **{key: f"{key}3" for key in ("G", "Ab", "A", "Bb", "B")},
    **{key: f"{key}4" for key in ("C", "Db", "D", "Eb", "E", "F", "F#")},
    **{f"low-{key}": f"{key}3" for key in ("C", "Db", "D", "Eb", "E", "F", "F#")},
    "high-G": "G4",
}


@pytest.mark.parametrize(("key", "hz"), HOLE_1_HZ.items())
def test_hole_one_has_its_frequency(key: str, hz: float) -> None:
    """Hole-1 blow sounds at the frequency of its key."""
    assert make_harp(key, 1, 440.0).hole1_hz == pytest.approx(hz, abs=0.005)


def test_every_key_starts_on_its_note() -> None:
    """Librosa reads each key's note name as the same MIDI note; every key from low F to high G is there."""
    assert {key.name: key.midi_note for key in KEYS} == {key: note_to_midi(name) for key, name in SCIENTIFIC.items()}
    notes = [key.midi_note for key in KEYS]
    assert set(range(53, 67 + 1)) <= set(notes)  # F3 to G4
    assert notes == sorted(set(notes))


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ("bb", "Bb"),
        ("A#", "Bb"),
        ("g#", "Ab"),
        ("C#", "Db"),
        ("D#", "Eb"),
        ("Gb", "F#"),
        ("LOW-f", "low-F"),
        ("low f", "low-F"),
        ("lowF", "low-F"),
        ("highg", "high-G"),
        ("low_gb", "low-F#"),
        ("High-G", "high-G"),
        (" B♭ ", "Bb"),
        ("F♯", "F#"),
    ],
)
def test_a_key_can_be_spelled_in_several_ways(given: str, name: str) -> None:
    """Capitals, sharps for flats and a space for the dash all lead to the one name."""
    assert find_key(given).name == name


@pytest.mark.parametrize("given", ["", "H", "low", "low-", "-C", "high-C", "low-A", "C-low", "Cm", "low-low-F"])
def test_an_unknown_key_is_told_which_there_are(given: str) -> None:
    """The answer repeats what was given and lists every key."""
    with pytest.raises(UserError) as caught:
        find_key(given)
    assert repr(given) in str(caught.value)
    assert all(key.name in str(caught.value) for key in KEYS)
