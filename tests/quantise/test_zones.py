"""What the settings leave to the harp: the straight third, and breath from soft to hard."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from bridge.base.events import Inflection, NoteOn
from bridge.harp.harp import make_harp
from bridge.quantise.scales import find_scale, read_scale
from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.third import blue_zones, blueness, depth, lean, with_third
from bridge.quantise.zones import BreathSettings, ThirdSettings
from quantise.playing import frames, quantiser, run

JUST_THIRD = 1200.0 * math.log2(5 / 4)


@pytest.mark.parametrize("temperament", ["just-5-limit", "just-7-limit", "just-19-limit"])
def test_the_straight_third_of_a_just_harp_has_no_depth(temperament: str) -> None:
    """In cross position it is 5/4 over the root, which reads as 0.14 deep where 400 is straight."""
    harp = make_harp("C", "cross", 443.0, temperament=temperament)  # type: ignore[arg-type]
    by_harp = blue_zones(QuantiseSettings().for_harp(harp.straight_third_cents()))["3"]
    by_number = blue_zones(QuantiseSettings())["3"]
    assert depth(JUST_THIRD, by_harp) == pytest.approx(0.0, abs=1e-9)
    assert blueness(JUST_THIRD, by_harp) == pytest.approx(0.0, abs=1e-9)
    assert lean(JUST_THIRD, by_harp) == pytest.approx(1.0)
    assert depth(JUST_THIRD, by_number) == pytest.approx(0.137, abs=5e-4)
    assert (by_harp.minor, by_harp.zone_low, by_harp.target, by_harp.zone_high) == (300.0, 315.0, 350.0, 365.0)


def test_twelfth_position_on_a_just_harp_has_its_third_at_435() -> None:
    """Draw 6 over draw 5, 27/16 over 21/16 of the key: 9/7, 435.08 cents, is straight there and still a third."""
    harp = make_harp("C", "twelfth", 440.0, temperament="just-7-limit")
    cents = 1200.0 * math.log2(9 / 7)
    assert harp.straight_third_cents() == pytest.approx(cents, abs=0.01)
    settings = QuantiseSettings().for_harp(harp.straight_third_cents())
    assert depth(cents, blue_zones(settings)["3"]) == pytest.approx(0.0, abs=1e-3)
    assert with_third(find_scale("blues", {}), settings.third.straight_cents).place(cents).slot.degree == "3"


def test_a_number_wins_over_the_harp() -> None:
    """Who sets where the straight third lies has it there on every harp."""
    assert ThirdSettings(straight=390.0).for_harp(JUST_THIRD).straight == 390.0
    assert ThirdSettings().for_harp(JUST_THIRD).straight == JUST_THIRD


@pytest.mark.parametrize("cents", [-20.0, 300.0, 350.0, 365.0, 374.9, 470.1, 600.0])
def test_a_third_that_is_in_the_zone_or_near_the_fourth_is_not_used(cents: float) -> None:
    """It would leave blueness no room: 400 stands for it, and whoever asks is told that the harp does not suit."""
    third = ThirdSettings()
    assert not third.suits(cents)
    assert third.for_harp(cents).straight == 400.0
    assert ThirdSettings(straight=390.0).suits(cents)


@given(st.floats(375.0, 470.0))
def test_any_other_third_is_used_and_measured_without_a_step(cents: float) -> None:
    """From 0 at the harp's own third to fully blue at the edge of the zone, in small steps."""
    zone = blue_zones(QuantiseSettings().for_harp(cents))["3"]
    assert zone.straight == cents
    steps = [blueness(zone.zone_high + (cents - zone.zone_high) * part / 100.0, zone) for part in range(101)]
    assert steps[0] == 1.0
    assert steps[-1] == pytest.approx(0.0, abs=1e-9)
    assert all(0.0 <= upper - lower < 0.02 for lower, upper in zip(steps[1:], steps, strict=False))


def test_a_zone_that_reaches_the_equal_third_needs_a_number() -> None:
    """Up to 400 the zone may be widened; an equal harp suits until then, and a number makes room for more."""
    assert ThirdSettings(zone_high=395.0).suits(400.0)
    with pytest.raises(ValidationError, match="which is 400 unless the harp has it elsewhere"):
        ThirdSettings(zone_high=400.0)
    assert ThirdSettings(zone_high=400.0, straight=410.0).straight_cents == 410.0


@pytest.mark.parametrize("name", ["blues", "major", "mixolydian", "chromatic"])
@pytest.mark.parametrize("straight", [376.0, JUST_THIRD, 400.0, 435.0, 455.0])
def test_the_slot_of_the_third_holds_every_straight_third(name: str, straight: float) -> None:
    """Played up to 30 cents above itself it is still the third, in every octave, and its neighbour keeps its anchor."""
    scale = with_third(find_scale(name, {}), straight)
    for cents in (straight, straight + 29.9):
        assert scale.place(cents).slot.degree == "3"
        assert scale.place(cents + 2400.0).octave == 2
    assert scale.place(500.0).slot.degree == "4"
    lows = [slot.low for slot in scale.slots]
    highs = [slot.high for slot in scale.slots]
    assert highs == [*lows[1:], lows[0] + 1200.0]
    assert all(slot.stay_low <= slot.low and slot.high <= slot.stay_high for slot in scale.slots)


def test_the_scale_stays_as_it_is_where_the_third_fits_or_is_none() -> None:
    """On an equal harp nothing moves, nor in a scale without a third; one that ends with it goes on from its first."""
    blues, pentatonic = find_scale("blues", {}), find_scale("minor-pentatonic", {})
    assert with_third(blues, 400.0) is blues
    assert with_third(pentatonic, 435.0) is pentatonic
    last = with_third(read_scale("mine", ["1", {"degree": "3", "reach": [300, 420]}]), 435.0)
    assert last.place(460.0).slot.degree == "3"
    assert last.place(470.0).slot.degree == "1"


def test_a_straight_third_of_435_is_played_as_a_third() -> None:
    """It begins in the third's slot and reads as straight, where 400 makes a fourth of it."""
    for third, degree in (({"straight": 435.0}, "3"), ({}, "4")):
        events = run(quantiser({"third": third}), frames(lambda _t: 435.0, 0.2))
        (note,) = [event for event in events if isinstance(event, NoteOn)]
        assert note.degree == degree
        last = [event for event in events if isinstance(event, Inflection)][-1]
        assert (last.lean, last.blueness) == ((1.0, 0.0) if degree == "3" else (0.0, 0.0))


def test_breath_lies_between_the_players_own_soft_and_hard() -> None:
    """Soft is a tenth of the breath and hard nine tenths; without a harp file it is from -48 to -9 dBFS."""
    floor_db, ceiling_db = BreathSettings().marks_db((-38.0, -14.0))
    assert [(level - floor_db) / (ceiling_db - floor_db) for level in (-38.0, -14.0)] == pytest.approx([0.1, 0.9])
    assert BreathSettings().marks_db() == (-48.0, -9.0)
    assert BreathSettings().marks_db((-30.0, -1.0))[1] == 0.0


def test_breath_marks_that_are_set_stay() -> None:
    """A number wins over the harp file, also where the file's other mark would then lie on the wrong side of it."""
    assert BreathSettings(floor_db=-60.0).marks_db((-38.0, -14.0)) == pytest.approx((-60.0, -11.0))
    assert BreathSettings(floor_db=-20.0).marks_db((-60.0, -30.0)) == (-20.0, -9.0)
    assert BreathSettings(floor_db=-60.0, ceiling_db=-6.0).for_player((-38.0, -14.0)).marks_db() == (-60.0, -6.0)


def test_constant_breath_says_nothing_of_the_level() -> None:
    """Soft and loud notes have it alike, and so has a velocity that is taken from the breath."""
    for level_db in (-40.0, -12.0):
        player = quantiser({"breath": {"constant": 0.8}, "velocity": "attack"})
        events = run(player, [replace(frame, level_db=level_db) for frame in frames(lambda _t: 0.0, 0.2)])
        assert {event.breath for event in events if isinstance(event, Inflection)} == {0.8}
        assert [event.velocity for event in events if isinstance(event, NoteOn)] == [0.8]
