"""Depth, blueness and lean against values worked out by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.quantise.settings import QuantiseSettings
from bridge.quantise.third import ThirdZone, blue_zones, blueness, depth, lean

ZONE = ThirdZone(straight=400.0, minor=300.0, target=350.0, zone_low=315.0, zone_high=365.0)

# Cents are 1200 * log2(ratio). 319 is where C. Cutting, Empirical Musicology Review 13 (2018), finds the third cluster.
# By hand: depth (400 - c) / 100; lean (c - 350) / 50, clipped; blueness outside 315..365 is
# 0.5 + 0.5 * cos(pi * x) with x = (c - 365) / 35 above and (315 - c) / 30 below, 0 from x = 1 on.
GOLDEN = [
    pytest.param(1200.0 * math.log2(7 / 6), 1.3313, 0.0, -1.0, id="7/6, 266.87"),
    pytest.param(300.0, 1.0, 0.5, -1.0, id="equal minor third"),
    pytest.param(1200.0 * math.log2(6 / 5), 0.8436, 1.0, -0.6872, id="6/5, 315.64"),
    pytest.param(319.0, 0.81, 1.0, -0.62, id="early recordings, 319"),
    pytest.param(1200.0 * math.log2(11 / 9), 0.5259, 1.0, -0.0518, id="11/9, 347.41"),
    pytest.param(350.0, 0.5, 1.0, 0.0, id="quarter tone"),
    pytest.param(1200.0 * math.log2(5 / 4), 0.1369, 0.3320, 0.7263, id="5/4, 386.31"),
    pytest.param(400.0, 0.0, 0.0, 1.0, id="equal major third"),
]


@pytest.mark.parametrize(("cents", "deep", "blue", "leaning"), GOLDEN)
@pytest.mark.parametrize("octave", [-1, 0, 2])
def test_the_third_is_measured_alike_in_every_octave(
    cents: float, deep: float, blue: float, leaning: float, octave: int
) -> None:
    """Each golden third has its depth, blueness and lean, whatever the octave."""
    at = cents + 1200.0 * octave
    assert depth(at, ZONE) == pytest.approx(deep, abs=5e-4)
    assert blueness(at, ZONE) == pytest.approx(blue, abs=5e-4)
    assert lean(at, ZONE) == pytest.approx(leaning, abs=5e-4)


@pytest.mark.parametrize("cents", [0.0, 200.0, 220.0, 445.0, 500.0, 700.0, 1000.0])
def test_away_from_the_third_everything_is_nought(cents: float) -> None:
    """On other degrees depth, blueness and lean are 0."""
    assert depth(cents, ZONE) == blueness(cents, ZONE) == lean(cents, ZONE) == 0.0


@given(cents=st.floats(260.0, 439.0))
def test_the_slopes_have_no_steps(cents: float) -> None:
    """A tenth of a cent changes blueness and lean by very little, so that a controller never jumps."""
    assert abs(blueness(cents + 0.1, ZONE) - blueness(cents, ZONE)) < 0.006
    assert abs(lean(cents + 0.1, ZONE) - lean(cents, ZONE)) < 0.003


@given(
    corners=st.lists(st.integers(100, 700), min_size=5, max_size=5, unique=True).map(sorted),
    cents=st.floats(-5000.0, 5000.0),
)
def test_any_zone_keeps_its_measures_in_range(corners: list[int], cents: float) -> None:
    """Wherever zone and target are set, blueness stays in 0..1 and lean in -1..+1, and the zone itself is all blue."""
    minor, low, target, high, straight = map(float, corners)
    zone = ThirdZone(straight=straight, minor=minor, target=target, zone_low=low, zone_high=high)
    assert 0.0 <= blueness(cents, zone) <= 1.0
    assert -1.0 <= lean(cents, zone) <= 1.0
    assert blueness(low, zone) == blueness(high, zone) == 1.0
    assert blueness(minor, zone) == pytest.approx(0.5)
    assert blueness(straight, zone) == pytest.approx(0.0)
    assert lean(target, zone) == 0.0


def test_the_zones_follow_the_settings() -> None:
    """The third is always blue, the fifth and the seventh when asked, each where its setting says."""
    assert set(blue_zones(QuantiseSettings())) == {"b3", "3"}
    made = QuantiseSettings.model_validate({"also_blue": ["5", 7], "third": {**_third(), "target": 340.0}})
    zones = blue_zones(made)
    assert set(zones) == {"b3", "3", "b5", "5", "b7", "7"}
    assert zones["3"].target == 340.0
    assert (zones["5"].minor, zones["5"].straight) == (600.0, 700.0)
    assert (zones["b7"].minor, zones["b7"].straight) == (1000.0, 1100.0)


def _third() -> dict[str, float]:
    return QuantiseSettings().third.model_dump()
