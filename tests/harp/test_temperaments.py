"""Temperaments against published offsets and ratios, and where root and straight third then lie."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.units import midi_to_hz
from bridge.harp.harp import Harp, make_harp
from bridge.harp.keys import KEYS
from bridge.harp.layout import RICHTER, Layout
from bridge.harp.temperaments import TEMPERAMENTS, Temperament, offset_cents

KEY_NAMES = [key.name for key in KEYS]
JUST: tuple[Temperament, ...] = ("just-5-limit", "just-7-limit", "just-19-limit")
# Whole cents from equal, the key of the harp 0: O. Hansson, Theory of harmonica tuning (2004-06), table 8B.
JUST_BLOW = [0, -14, 2, 0, -14, 2, 0, -14, 2, 0]
JUST_DRAW = {
    "just-5-limit": [4, 2, -12, 4, 20, 6, -12, 4, 20, 6],
    "just-7-limit": [4, 2, -12, 4, -29, 6, -12, 4, -29, 6],
    "just-19-limit": [4, 2, -12, 4, 1, 6, -12, 4, 1, 6],
}
# Ratios over the harp's key (the same source), hole by hole; octaves are pure.
BLOW_RATIOS = [1, 5 / 4, 3 / 2, 2, 5 / 2, 3, 4, 5, 6, 8]
FOURTHS = {"just-5-limit": 27 / 20, "just-7-limit": 21 / 16, "just-19-limit": 171 / 128}
# Straight thirds over the straight root where both are reeds, 1200 * log2(ratio): 5/4 in first and cross position.
JUST_THIRD = 386.31


def draw_ratios(limit: str) -> list[float]:
    """The draw reeds over the harp's key."""
    fourth = FOURTHS[limit]
    return [9 / 8, 3 / 2, 15 / 8, 9 / 4, 2 * fourth, 27 / 8, 15 / 4, 9 / 2, 4 * fourth, 27 / 4]


def by_air(harp: Harp, air: str) -> list[float]:
    """Offsets of the reeds of one air, cents, hole by hole."""
    return [reed.offset_cents for reed in harp.reeds if reed.air == air]


@pytest.mark.parametrize("limit", JUST)
def test_just_reeds_have_their_published_offsets(limit: Temperament) -> None:
    """Every reed lies within half a cent of the whole cents of the table."""
    harp = make_harp("C", 2, 440.0, temperament=limit)
    assert by_air(harp, "blow") == pytest.approx(JUST_BLOW, abs=0.5)
    assert by_air(harp, "draw") == pytest.approx(JUST_DRAW[limit], abs=0.6)  # -11.73 and 19.55 stand there rounded


@pytest.mark.parametrize("limit", JUST)
@pytest.mark.parametrize("key", KEY_NAMES)
def test_just_reeds_have_their_ratios_in_every_key(limit: Temperament, key: str) -> None:
    """Each reed's frequency over the key's note is its ratio, to 0.01 cents, and the key's note is that of MIDI 1.0."""
    harp = make_harp(key, 2, 443.0, temperament=limit)
    tonic = 443.0 * 2.0 ** ((harp.hole1_midi - 69) / 12.0)
    ratios = [ratio for pair in zip(BLOW_RATIOS, draw_ratios(limit), strict=True) for ratio in pair]
    for reed, ratio in zip(harp.reeds, ratios, strict=True):
        assert 1200.0 * log2(reed.hz / tonic) == pytest.approx(1200.0 * log2(ratio), abs=0.01)


# Cents of the intervals by 1200 * log2(ratio), worked out by hand.
@pytest.mark.parametrize(
    ("limit", "semitones", "cents"),
    [
        ("just-5-limit", 4, 386.31),
        ("just-7-limit", 7, 701.96),
        ("just-7-limit", 5, 470.78),
        ("just-19-limit", 3, 297.51),
        ("just-5-limit", 3, 315.64),
        ("just-5-limit", 11, 1088.27),
        ("just-19-limit", 9, 905.87),
    ],
)
def test_intervals_over_the_key(limit: Temperament, semitones: int, cents: float) -> None:
    """The intervals are the known ones."""
    assert 100.0 * semitones + offset_cents(limit, semitones) == pytest.approx(cents, abs=0.01)


@given(semitones=st.integers(-24, 60))
def test_equal_has_no_offset_and_the_compromise_half_of_the_seven_limit(semitones: int) -> None:
    """Equal is 0 everywhere, the compromise half way (common practice, no source); octaves are pure in all."""
    assert offset_cents("equal", semitones) == 0.0
    assert offset_cents("compromise", semitones) == pytest.approx(offset_cents("just-7-limit", semitones) / 2.0)
    for temperament in TEMPERAMENTS:
        assert offset_cents(temperament, semitones) == offset_cents(temperament, semitones + 12)
        assert abs(offset_cents(temperament, semitones)) < 50.0


@pytest.mark.parametrize("limit", JUST)
@pytest.mark.parametrize("position", [1, 2])
def test_a_just_straight_third_is_a_just_third(limit: Temperament, position: int) -> None:
    """In first and cross position it lies 386.31 cents over the straight root, though the cross root is 2 sharp."""
    harp = make_harp("A", position, 442.0, temperament=limit)
    assert harp.straight_third_cents() == pytest.approx(JUST_THIRD, abs=0.01)
    third = {1: (2, "blow"), 2: (3, "draw")}[position]
    (hz,) = [reed.hz for reed in harp.reeds if (reed.hole, reed.air) == third]
    assert 1200.0 * log2(hz / harp.root_hz) == pytest.approx(JUST_THIRD, abs=0.01)


# Straight thirds in cents by 1200 * log2(ratio), position by position from the first. In the 12th the third is 27/16
# over a root of 21/16, so 9/7. In the 3rd to 7th no reed gives a major third. In the 8th to 11th a reed does (draw 5,
# blow 1, blow 3, draw 1) and none gives the root, so that it counts from equal.
SEVEN_LIMIT_THIRDS = [386.31, 386.31, 400.0, 400.0, 400.0, 400.0, 400.0, 370.78, 400.0, 401.96, 403.91, 435.08]


@pytest.mark.parametrize(("position", "cents"), list(enumerate(SEVEN_LIMIT_THIRDS, start=1)))
def test_straight_thirds_of_all_positions_in_the_seven_limit(position: int, cents: float) -> None:
    """Where no straight reed is a major third it is 400; elsewhere what the player's own reeds give."""
    harp = make_harp("D", position, 440.0, temperament="just-7-limit")
    assert harp.straight_third_cents() == pytest.approx(cents, abs=0.01)


@given(
    key=st.sampled_from(KEY_NAMES),
    position=st.integers(1, 12),
    a4_hz=st.floats(400.0, 480.0),
    temperament=st.sampled_from(TEMPERAMENTS),
)
def test_the_root_is_the_players_own_straight_reed(
    key: str, position: int, a4_hz: float, temperament: Temperament
) -> None:
    """Octaves of the root fall exactly on the reeds of its name; where there are none it is equal-tempered."""
    harp = make_harp(key, position, a4_hz, temperament=temperament)
    steps = [reed for reed in harp.reeds if (harp.hole1_midi + reed.semitones - harp.root_midi) % 12 == 0]
    for reed in steps:
        octaves = log2(reed.hz / harp.root_hz)
        assert octaves == pytest.approx(round(octaves), abs=1e-9)
    equal = midi_to_hz(harp.root_midi, a4_hz)
    if not steps:
        assert harp.root_hz == pytest.approx(equal)
    assert abs(1200.0 * log2(harp.root_hz / equal)) < 30.0
    assert harp.sharp_cents == pytest.approx(1200.0 * log2(harp.root_hz / midi_to_hz(harp.root_midi)), abs=1e-6)


def test_a_layout_without_the_third_keeps_it_at_400() -> None:
    """Draw 3 and 7 a semitone lower leave cross position no major third (common practice, no source)."""
    dorian = Layout("dorian", RICHTER.blow, (2, 7, 10, 14, 17, 21, 22, 26, 29, 33))
    assert make_harp("C", 2, 440.0, dorian, "just-5-limit").straight_third_cents() == 400.0


@pytest.mark.parametrize("temperament", TEMPERAMENTS)
def test_another_key_keeps_everything_else(temperament: Temperament) -> None:
    """The same harp a fourth higher: each reed by that ratio, position, A4 and temperament as they were."""
    harp = make_harp("G", 3, 442.0, temperament=temperament)
    other = harp.in_key("c")
    assert other == make_harp("C", 3, 442.0, temperament=temperament)
    assert [reed.hz for reed in other.reeds] == pytest.approx([reed.hz * 2.0 ** (5 / 12) for reed in harp.reeds])
