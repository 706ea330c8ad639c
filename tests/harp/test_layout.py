"""The ten holes, bends and overbends of a C harp against published notes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from librosa import note_to_midi

from bridge.base.errors import UserError
from bridge.harp.bends import Air, bends, overbends
from bridge.harp.harp import make_harp
from bridge.harp.layout import RICHTER, layout_from

# OEIS A291810, the notes of a ten-hole diatonic in C.
BLOW = ["C4", "E4", "G4", "C5", "E5", "G5", "C6", "E6", "G6", "C7"]
DRAW = ["D4", "G4", "B4", "D5", "F5", "A5", "B5", "D6", "F6", "A6"]
# Common practice, no source.
BENDS: dict[tuple[int, Air], list[str]] = {
    (1, "draw"): ["Db4"],
    (2, "draw"): ["F#4", "F4"],
    (3, "draw"): ["Bb4", "A4", "Ab4"],
    (4, "draw"): ["Db5"],
    (6, "draw"): ["Ab5"],
    (8, "blow"): ["Eb6"],
    (9, "blow"): ["F#6"],
    (10, "blow"): ["B6", "Bb6"],
}
# Common practice, no source.
OVERBENDS = {
    (1, "overblow"): "Eb4",
    (4, "overblow"): "Eb5",
    (5, "overblow"): "F#5",
    (6, "overblow"): "Bb5",
    (7, "overdraw"): "C#6",
    (9, "overdraw"): "Ab6",
    (10, "overdraw"): "C#7",
}
HOLE_1 = 60


def test_every_hole_has_its_two_notes() -> None:
    """The layout of a C harp is the published one."""
    assert [HOLE_1 + note for note in RICHTER.blow] == [note_to_midi(name) for name in BLOW]
    assert [HOLE_1 + note for note in RICHTER.draw] == [note_to_midi(name) for name in DRAW]


def test_reeds_sound_their_notes() -> None:
    """Each reed's frequency is that of its note by 440 * 2**((n - 69) / 12) (MIDI 1.0, 4.2.1)."""
    harp = make_harp("C", 2, 440.0)
    names = [name for pair in zip(BLOW, DRAW, strict=True) for name in pair]
    assert [(reed.hole, reed.air) for reed in harp.reeds] == [
        (hole, air) for hole in range(1, 11) for air in ("blow", "draw")
    ]
    for reed, name in zip(harp.reeds, names, strict=True):
        assert reed.hz == pytest.approx(440.0 * 2.0 ** ((note_to_midi(name) - 69) / 12.0))
    assert (harp.lowest_hz, harp.highest_hz) == pytest.approx((261.6256, 2093.0045), abs=1e-4)


def test_bends_go_down_to_a_semitone_above_the_lower_reed() -> None:
    """Exactly the known bends come out, the shallowest first."""
    found: dict[tuple[int, Air], list[int]] = {}
    for sound in bends(RICHTER):
        assert sound.kind == "bend"
        found.setdefault((sound.hole, sound.air), []).append(HOLE_1 + sound.semitones)
    assert found == {reed: [note_to_midi(name) for name in names] for reed, names in BENDS.items()}


def test_overbends_are_those_that_add_a_note() -> None:
    """Exactly the known overblows and overdraws come out, blown and drawn."""
    found = {(sound.hole, sound.kind): HOLE_1 + sound.semitones for sound in overbends(RICHTER)}
    assert found == {how: note_to_midi(name) for how, name in OVERBENDS.items()}
    assert all((sound.air == "blow") == (sound.kind == "overblow") for sound in overbends(RICHTER))


def test_with_bends_and_overbends_the_harp_is_chromatic() -> None:
    """Straight notes, bends and overbends give every semitone of three octaves (common practice, no source)."""
    notes = {*RICHTER.blow, *RICHTER.draw} | {sound.semitones for sound in bends(RICHTER) + overbends(RICHTER)}
    assert set(range(37)) <= notes


@given(notes=st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=1, max_size=16))
def test_any_layout_keeps_its_bends_between_its_reeds(notes: list[tuple[int, int]]) -> None:
    """Whatever the two notes of a hole, its bends lie between them and its overbend adds a new note."""
    notes = [(0, notes[0][1]), *notes[1:]]
    blow, draw = ([pair[side] for pair in notes] for side in (0, 1))
    layout = layout_from("mine", {"blow": blow, "draw": draw})
    there = {*blow, *draw}
    for sound in bends(layout):
        low, high = sorted(notes[sound.hole - 1])
        assert low < sound.semitones < high
        there.add(sound.semitones)
    assert not there & {sound.semitones for sound in overbends(layout)}


@pytest.mark.parametrize(
    ("plain", "told"),
    [
        ({}, "give the two rows"),
        ({"blow": [0], "draw": [2], "suck": [3]}, "'suck'"),
        ({"blow": [0, 4], "draw": [2]}, "2 blow and 1 draw"),
        ({"blow": [], "draw": []}, "blow must be a list"),
        ({"blow": [0, 4.5], "draw": [2, 7]}, "blow must be a list of whole semitones"),
        ({"blow": [0, 4], "draw": "DG"}, "draw must be a list of whole semitones"),
        ({"blow": [0, True], "draw": [2, 7]}, "blow must be a list of whole semitones"),
        ({"blow": [4, 7], "draw": [2, 7]}, "blow must begin with 0"),
        ({"blow": [0, 61], "draw": [2, 7]}, "blow must be at most 16 notes from -12 to 60"),
        ({"blow": [0] * 17, "draw": [2] * 17}, "blow must be at most 16 notes"),
    ],
)
def test_a_wrong_layout_is_told_what_is_wrong(plain: dict[str, object], told: str) -> None:
    """Each mistake names the layout, the row and what to do."""
    with pytest.raises(UserError) as caught:
        layout_from("mine", plain)
    assert "'mine'" in str(caught.value)
    assert told in str(caught.value)
