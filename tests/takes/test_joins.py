"""Joins of sung and played sound: fades, vibrations, levels, ringing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.takes.joins import late_by, level_again, rings_s, rise

RATE = 48000


@given(st.integers(1, 2000))
def test_a_rise_and_its_mirror_image_are_one(count: int) -> None:
    """Two sounds of one phase keep their level while the one takes over from the other."""
    up = rise(count)
    assert np.abs(up + up[::-1] - 1.0).max() < 1e-12
    assert (np.diff(up) >= 0.0).all()
    assert 0.0 < up[0] <= 0.5


@given(st.integers(-50, 50), st.floats(0.1, 10.0), st.integers(0, 1000))
def test_the_shift_that_fits_is_found_at_any_level(shift: int, gain: float, seed: int) -> None:
    """A copy that comes ``shift`` samples early must come that much later."""
    noise = np.random.default_rng(seed).standard_normal(700)
    played, sung = noise[100:500], gain * noise[100 + shift : 500 + shift]
    assert late_by(sung, played, 50) == shift


def test_too_little_sound_is_not_moved() -> None:
    """At the end of a file there may be nothing to compare."""
    assert late_by(np.ones(10), np.ones(10), 5) == 0


def test_a_level_is_brought_back_moment_by_moment() -> None:
    """A tone that was made 3 dB softer at first and louder later has its old level within 0.1 dB."""
    played = np.sin(np.arange(RATE) * 0.06)
    sung = played * 10.0 ** (np.linspace(-3.0, 3.0, RATE) / 20.0)
    off_db = 20.0 * np.log10(np.abs(level_again(sung, played, RATE)[2400:-2400] / played[2400:-2400]))
    assert np.abs(off_db).max() < 0.1


def test_silence_is_not_made_loud() -> None:
    """Where nothing was sung nothing comes of it, and a level is mended by no more than 6 dB."""
    tone = np.sin(np.arange(4800) * 0.06)
    assert not level_again(np.zeros(4800), tone, RATE).any()
    assert np.abs(level_again(0.01 * tone, tone, RATE)).max() < 0.021


@pytest.mark.parametrize(
    ("fall_db_s", "room", "expected_s"), [(500.0, 0.0, 0.1), (500.0, 1e-3, 0.107), (50.0, 0.0, 0.13)]
)
def test_a_note_rings_until_it_is_lost(fall_db_s: float, room: float, expected_s: float) -> None:
    """50 dB down it has ended, or 6 dB over the noise of the room, or over the softest of the sound given."""
    rng = np.random.default_rng(3)
    seconds = np.arange(RATE // 4) / RATE
    ringing = 0.5 * np.sqrt(2.0) * np.sin(seconds * 3000.0) * 10.0 ** (-fall_db_s * seconds / 20.0)
    found = rings_s(ringing + room * rng.standard_normal(len(seconds)), RATE, 0.5)
    assert found == pytest.approx(expected_s, abs=0.02)


def test_where_nothing_rings_nothing_is_found() -> None:
    """Silence, and no sound at all."""
    assert rings_s(np.zeros(4800), RATE, 0.5) == 0.0
    assert rings_s(np.zeros(0), RATE, 0.5) == 0.0
