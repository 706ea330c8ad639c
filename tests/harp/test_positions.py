"""Positions and harps: roots by the circle of fifths, and what changes when key or pitch change."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from librosa import midi_to_note, note_to_midi
from pydantic import ValidationError

from bridge.base.errors import UserError
from bridge.harp.harp import make_harp
from bridge.harp.keys import KEYS
from bridge.harp.positions import find_position, position_name, root_semitones
from bridge.harp.settings import HarpSettings

# The circle of fifths from C (common practice, no source).
CIRCLE = ["C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#", "F"]


def test_positions_go_round_the_circle_of_fifths() -> None:
    """The twelve positions of a C harp have the roots of the circle, each root once."""
    roots = [make_harp("C", position, 440.0).root_midi for position in range(1, 13)]
    assert [midi_to_note(root, octave=False, unicode=False) for root in roots] == CIRCLE
    assert all(60 <= root < 72 for root in roots)


def test_each_position_is_a_fifth_above_the_one_before() -> None:
    """Going on by one adds seven semitones, octaves apart, and twelve times leads home."""
    for position in range(1, 12):
        assert (root_semitones(position + 1) - root_semitones(position)) % 12 == 7
    assert (root_semitones(12) + 7) % 12 == root_semitones(1) == 0


def test_the_cross_root_is_draw_two_and_blow_three() -> None:
    """In cross position the root sounds at draw 2 and blow 3, its third at draw 3, its fifth at draw 4
    (common practice, no source).
    """
    harp = make_harp("A", "cross", 440.0)
    hz = {(reed.hole, reed.air): reed.hz for reed in harp.reeds}
    assert hz[2, "draw"] == pytest.approx(harp.root_hz)
    assert hz[3, "blow"] == pytest.approx(harp.root_hz)
    assert hz[3, "draw"] == pytest.approx(harp.root_hz * 2.0 ** (4 / 12))
    assert hz[4, "draw"] == pytest.approx(harp.root_hz * 2.0 ** (7 / 12))
    assert hz[6, "blow"] == pytest.approx(harp.root_hz * 2.0)


@pytest.mark.parametrize(
    ("position", "root"),
    [("first", "A3"), ("straight", "A3"), ("cross", "E4"), ("second", "E4"), ("Third", "B3"), ("12", "D4"), (4, "F#4")],
)
def test_positions_go_by_number_and_name(position: int | str, root: str) -> None:
    """An A harp has the known root in each position, however it is named (common practice, no source)."""
    assert make_harp("A", position, 440.0).root_midi == note_to_midi(root)


@pytest.mark.parametrize("position", [0, 13, -1, "", "thirteenth", "2.5", "²"])
def test_an_unknown_position_is_told_which_there_are(position: int | str) -> None:
    """The answer repeats what was given and lists numbers and names."""
    with pytest.raises(UserError, match="1 to 12, or first, straight, cross, second") as caught:
        find_position(position)
    assert repr(position) in str(caught.value)


@given(key=st.sampled_from([key.name for key in KEYS]), position=st.integers(1, 12), a4_hz=st.floats(400.0, 480.0))
def test_a_harp_in_another_key_is_the_same_harp_transposed(key: str, position: int, a4_hz: float) -> None:
    """Root, reeds and range move together with key and A4, and nothing else does."""
    plain, harp = make_harp("C", position, 440.0), make_harp(key, position, a4_hz)
    semitones = harp.hole1_midi - plain.hole1_midi
    ratio = a4_hz / 440.0 * 2.0 ** (semitones / 12.0)
    assert harp.root_midi - plain.root_midi == semitones
    assert harp.root_hz == pytest.approx(plain.root_hz * ratio)
    assert harp.lowest_hz == pytest.approx(plain.lowest_hz * ratio)
    assert harp.highest_hz == pytest.approx(plain.highest_hz * ratio)
    assert [reed.hz for reed in harp.reeds] == pytest.approx([reed.hz * ratio for reed in plain.reeds])
    assert harp.hole1_hz <= harp.root_hz * (1.0 + 1e-12) < 2.0 * harp.hole1_hz
    assert find_position(position_name(position)) == position


def test_a_harp_tells_its_name() -> None:
    """The name gives the key as it is usually spelled, and the position as players call it."""
    assert make_harp("a#", 2, 443.0).name == "Bb harp, cross position"


def test_settings_come_out_as_they_are_called() -> None:
    """Key and position are brought into their usual spelling."""
    made = HarpSettings(key="LOW-f", position="cross")
    assert (made.key, made.position) == ("low-F", 2)


@pytest.mark.parametrize(
    ("plain", "told"),
    [
        ({"key": "H"}, "There is no harp in the key 'H'"),
        ({"position": 13}, "There is no position 13"),
        ({"position": "sideways"}, "There is no position 'sideways'"),
        ({"a4_hz": 399.0}, "greater than or equal to 400"),
        ({"a4_hz": 481.0}, "less than or equal to 480"),
        ({"a4_hz": float("nan")}, "a4_hz"),
        ({"layout": 3}, "valid string"),
        ({"temperament": "mean-tone"}, "just-7-limit"),
        ({"colour": "red"}, "Extra inputs"),
    ],
)
def test_a_wrong_setting_is_refused(plain: dict[str, object], told: str) -> None:
    """Each wrong value is refused with what is allowed."""
    with pytest.raises(ValidationError) as caught:
        HarpSettings.model_validate(plain)
    assert told in str(caught.value)


def test_every_setting_is_described() -> None:
    """Each setting says what it is, so that the commented file can be checked against it."""
    assert all(field.description for field in HarpSettings.model_fields.values())
