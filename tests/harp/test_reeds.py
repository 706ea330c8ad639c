"""From a pitch back to the hole it came from."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.harp.bends import bends, overbends
from bridge.harp.harp import make_harp
from bridge.harp.keys import KEYS
from bridge.harp.reeds import likely_reed

HARP = make_harp("C", "cross", 440.0)
KEY_NAMES = [key.name for key in KEYS]


def hz_at(semitones: float) -> float:
    """Hz so many semitones above hole-1 blow of the C harp."""
    return float(HARP.hole1_hz * 2.0 ** (semitones / 12.0))


@given(key=st.sampled_from(KEY_NAMES), index=st.integers(0, 19), off=st.floats(-45.0, 45.0))
def test_a_straight_reed_is_found_though_out_of_tune(key: str, index: int, off: float) -> None:
    """In every key each reed is found within a quarter tone; draw 2 and blow 3 share a note and are marked."""
    harp = make_harp(key, 1, 442.0)
    reed = harp.reeds[index]
    reading = likely_reed(harp, reed.hz * 2.0 ** (off / 1200.0))
    shared = (reed.hole, reed.air) in {(2, "draw"), (3, "blow")}
    assert (reading.hole, reading.air) == ((2, "draw") if shared else (reed.hole, reed.air))
    assert reading.kind == "straight"
    assert reading.bend_cents == pytest.approx(off, abs=1e-6)
    assert reading.ambiguous is shared


@given(sound=st.sampled_from(bends(HARP.layout)), off=st.floats(-35.0, 35.0))
def test_a_bend_is_found_with_its_depth(sound: object, off: float) -> None:
    """Each bend is found on its hole, with the cents from the straight reed."""
    bent = next(each for each in bends(HARP.layout) if each == sound)
    reading = likely_reed(HARP, hz_at(bent.semitones + off / 100.0))
    straight = next(reed for reed in HARP.reeds if (reed.hole, reed.air) == (bent.hole, bent.air))
    assert (reading.hole, reading.air, reading.kind) == (bent.hole, bent.air, "bend")
    assert reading.bend_cents == pytest.approx(100.0 * bent.semitones + off - straight.cents, abs=1e-6)
    assert not reading.ambiguous


def test_overblows_and_overdraws_are_found() -> None:
    """Each overbend is found as what it is, some cents off too."""
    for sound in overbends(HARP.layout):
        reading = likely_reed(HARP, hz_at(sound.semitones + 0.1))
        assert (reading.hole, reading.air, reading.kind) == (sound.hole, sound.air, sound.kind)
        assert reading.bend_cents == pytest.approx(10.0)


def test_the_blue_third_is_draw_three_bent() -> None:
    """A quarter tone below the straight third of cross position comes from draw 3 (common practice, no source)."""
    reading = likely_reed(HARP, HARP.root_hz * 2.0 ** (340.0 / 1200.0))
    assert (reading.hole, reading.air, reading.kind) == (3, "draw", "bend")
    assert reading.bend_cents == pytest.approx(-60.0)


@given(hz=st.floats(1.0, 20000.0), key=st.sampled_from(KEY_NAMES))
def test_any_pitch_gives_a_hole_of_the_harp(hz: float, key: str) -> None:
    """However far off, the answer is one of the ten holes."""
    reading = likely_reed(make_harp(key, 2, 440.0), hz)
    assert 1 <= reading.hole <= 10
    assert reading.air in {"blow", "draw"}
