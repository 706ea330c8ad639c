"""Every way to a note: reeds, bends and overbends by the rule of the trade, over all keys; positions by a table."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st
from librosa import note_to_midi

from bridge.harp.bends import bends, overbends, straight_notes
from bridge.harp.harp import make_harp
from bridge.harp.keys import KEYS
from bridge.harp.layout import RICHTER, Layout, layout_from
from bridge.harp.reeds import likely_reed
from bridge.harp.temperaments import TEMPERAMENTS, Temperament

KEY_NAMES = [key.name for key in KEYS]
# What a C harp's straight notes leave out, and how each is had (common practice, no source).
WAYS: dict[tuple[str, int, str], str] = {
    ("bend", 1, "draw"): "C#4",
    ("overblow", 1, "blow"): "D#4",
    ("bend", 2, "draw"): "F4 F#4",
    ("bend", 3, "draw"): "G#4 A4 A#4",
    ("bend", 4, "draw"): "C#5",
    ("overblow", 4, "blow"): "D#5",
    ("overblow", 5, "blow"): "F#5",
    ("bend", 6, "draw"): "G#5",
    ("overblow", 6, "blow"): "A#5",
    ("overdraw", 7, "draw"): "C#6",
    ("bend", 8, "blow"): "D#6",
    ("bend", 9, "blow"): "F#6",
    ("overdraw", 9, "draw"): "G#6",
    ("bend", 10, "blow"): "A#6 B6",
}
MADE_NOTES = {name: way for way, names in WAYS.items() for name in names.split()}
# Root, straight major third and straight fifth of a C harp in the positions played most: the reeds that give them
# anywhere on the harp, + for blow and - for draw; none where no straight reed does (common practice, no source).
POSITIONS = {
    1: ("C", {"+1", "+4", "+7", "+10"}, {"+2", "+5", "+8"}, {"+3", "-2", "+6", "+9"}),
    2: ("G", {"-2", "+3", "+6", "+9"}, {"-3", "-7"}, {"-1", "-4", "-8"}),
    3: ("D", {"-1", "-4", "-8"}, set(), {"-6", "-10"}),
    4: ("A", {"-6", "-10"}, set(), {"+2", "+5", "+8"}),
    5: ("E", {"+2", "+5", "+8"}, set(), {"-3", "-7"}),
    12: ("F", {"-5", "-9"}, {"-6", "-10"}, {"+1", "+4", "+7", "+10"}),
}


def by_rule(layout: Layout) -> set[tuple[int, str, str, int]]:
    """Every note of the harp, (hole, air, kind, semitones), worked out note by note from the rule.

    A hole's higher reed bends to what lies between its two notes; a semitone above it lies the overbend, where nothing
    else gives that note.
    """
    ways: set[tuple[int, str, str, int]] = set()
    for hole, pair in enumerate(zip(layout.blow, layout.draw, strict=True), start=1):
        ways |= {(hole, air, "straight", note) for air, note in zip(("blow", "draw"), pair, strict=True)}
        bending = "draw" if pair[1] > pair[0] else "blow"
        ways |= {(hole, bending, "bend", note) for note in range(-12, 61) if min(pair) < note < max(pair)}
    plain = {note for *_, note in ways}
    for hole, (blow, draw) in enumerate(zip(layout.blow, layout.draw, strict=True), start=1):
        over = ("blow", "overblow") if draw > blow else ("draw", "overdraw")
        if (note := max(blow, draw) + 1) not in plain:
            ways.add((hole, *over, note))
    return ways


def offered(layout: Layout) -> set[tuple[int, str, str, int]]:
    """What the program says of the same."""
    sounds = straight_notes(layout) + bends(layout) + overbends(layout)
    return {(sound.hole, sound.air, sound.kind, sound.semitones) for sound in sounds}


@given(key=st.sampled_from(KEY_NAMES), semitones=st.integers(0, 36), a4_hz=st.floats(430.0, 450.0))
def test_every_semitone_is_played_exactly_as_the_rule_says(key: str, semitones: int, a4_hz: float) -> None:
    """From hole-1 blow to hole-10 blow each note has a way, in every key, and the likely reed is one of them."""
    harp = make_harp(key, 2, a4_hz)
    ways = {way[:3] for way in by_rule(harp.layout) if way[3] == semitones}
    assert ways
    assert ways == {way[:3] for way in offered(harp.layout) if way[3] == semitones}
    reading = likely_reed(harp, a4_hz * 2.0 ** ((harp.hole1_midi + semitones - 69) / 12.0))
    assert (reading.hole, reading.air, reading.kind) in ways
    assert reading.ambiguous is (len(ways) > 1)


@given(
    draw=st.lists(st.integers(-12, 60), min_size=10, max_size=10),
    blow=st.lists(st.integers(-12, 60), min_size=9, max_size=9),
)
def test_the_rule_holds_on_any_layout(draw: list[int], blow: list[int]) -> None:
    """Whatever the notes of the holes, exactly the notes of the rule are offered."""
    layout = layout_from("mine", {"blow": [0, *blow], "draw": draw})
    assert offered(layout) == by_rule(layout)


@pytest.mark.parametrize(("name", "way"), MADE_NOTES.items())
def test_each_note_between_the_reeds_is_had_in_the_known_way(name: str, way: tuple[str, int, str]) -> None:
    """Bend, overblow or overdraw, hole and air are those that players know."""
    reading = likely_reed(make_harp("C", 2, 440.0), 440.0 * 2.0 ** ((note_to_midi(name) - 69) / 12.0))
    assert (reading.kind, reading.hole, reading.air) == way


def test_straight_notes_and_made_notes_are_all_there_are() -> None:
    """The table leaves no semitone of the three octaves out and repeats no straight note."""
    straight = {60 + note for note in RICHTER.blow + RICHTER.draw}
    made = {note_to_midi(name) for name in MADE_NOTES}
    assert straight | made == set(range(60, 97))
    assert not straight & made


@pytest.mark.parametrize("position", POSITIONS)
def test_positions_have_their_reeds(position: int) -> None:
    """Root, straight major third and fifth of each position lie in the known holes."""
    harp = make_harp("C", position, 440.0)
    root, *expected = POSITIONS[position]
    assert (harp.root_midi - note_to_midi(f"{root}4")) == 0
    for semitones, holes in zip((0, 4, 7), expected, strict=True):
        found = set()
        for reed in harp.reeds:
            steps = 12.0 * log2(reed.hz / harp.root_hz) - semitones
            if abs(steps - 12.0 * round(steps / 12.0)) < 0.01:
                found.add(f"{'+' if reed.air == 'blow' else '-'}{reed.hole}")
        assert found == holes
    assert (harp.straight_reed(harp.root_midi - harp.hole1_midi + 4) is None) is (not expected[1])


@given(
    key=st.sampled_from(KEY_NAMES),
    position=st.integers(1, 12),
    temperament=st.sampled_from(TEMPERAMENTS),
    cents=st.floats(-150.0, 3700.0),
)
def test_transposing_the_harp_transposes_everything(
    key: str, position: int, temperament: Temperament, cents: float
) -> None:
    """The same pitch over another key's hole 1 has the same reading; root and straight third lie as far above it."""
    plain, harp = (make_harp(name, position, 440.0, temperament=temperament) for name in ("C", key))
    readings = [likely_reed(each, each.hole1_hz * 2.0 ** (cents / 1200.0)) for each in (plain, harp)]
    near_border = abs(readings[0].bend_cents - readings[1].bend_cents) > 1e-6  # a border falls either way by rounding
    if not near_border:
        assert readings[0].hole == readings[1].hole
        assert readings[0].kind == readings[1].kind
        assert readings[0].ambiguous == readings[1].ambiguous
    assert harp.root_hz / harp.hole1_hz == pytest.approx(plain.root_hz / plain.hole1_hz)
    assert harp.straight_third_cents() == pytest.approx(plain.straight_third_cents())
    assert [reed.cents for reed in harp.reeds] == pytest.approx([reed.cents for reed in plain.reeds])
