"""What is a fresh attack and what is not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bridge.follow.articulation import Articulation
from bridge.follow.settings import GateSettings, RestrikeSettings

HOP_S = 64 / 48000


def _attacks(levels: list[float], loudness: list[float] | None = None) -> list[int]:
    """Hops with an attack; without ``loudness`` all partials move alike, so that it is the level."""
    articulation = Articulation(GateSettings(), RestrikeSettings(), HOP_S)
    both = zip(levels, loudness or levels, strict=True)
    return [index for index, (level, loud) in enumerate(both) if articulation.step(level, loud).attack]


def _hops(seconds: float) -> int:
    return round(seconds / HOP_S)


def test_a_sound_that_begins_is_an_attack() -> None:
    """The gate's opening counts once."""
    assert _attacks([-100.0] * 20 + [-20.0] * 200) == [20]


@pytest.mark.parametrize("gap_s", [0.02, 0.04])
def test_a_tongued_gap_is_an_attack(gap_s: float) -> None:
    """A dip of 20 dB with flanks of 8 ms is found wherever it lies."""
    gap = [-40.0] * _hops(gap_s)
    down = [-20.0 - 20.0 * i / 6 for i in range(6)]
    levels = ([-20.0] * _hops(0.06) + down + gap + down[::-1]) * 4 + [-20.0] * 50
    assert len(_attacks(levels)) == 5


@pytest.mark.parametrize("depth_db", [6.0, 10.0])
@pytest.mark.parametrize("rate_hz", [3.0, 5.5, 8.0])
def test_hand_flutter_is_no_attack(depth_db: float, rate_hz: float) -> None:
    """A smooth flutter of the range that players use splits nothing (common practice, no source)."""
    levels = [-20.0 - depth_db * (0.5 - 0.5 * math.cos(2 * math.pi * rate_hz * i * HOP_S)) for i in range(_hops(2.0))]
    assert _attacks(levels) == [0]


def test_hands_that_close_on_a_growing_note_are_no_attack() -> None:
    """Hands that flutter at 7 Hz and begin to close while the reed still grows split nothing.

    Level and loudness every 8 ms as measured on the sampled harmonica (FluidR3, F#6), 10 dB from open to closed.
    """
    levels = [-54.1, -32.9, -27.1, -25.4, -25.0, -26.0, -27.7, -29.4, -30.9, -31.0, -29.7, -27.7, -26.1, -24.7, -23.7]
    loudness = [-97.9, -72.4, -66.3, -63.2, -63.7, -65.0, -68.7, -71.1, -74.1, -75.0, -73.9, -71.2, -68.0, -64.7, -61.8]
    hops = np.arange(6 * (len(levels) - 1))
    tracks = [np.interp(hops, 6 * np.arange(len(track)), track).tolist() for track in (levels, loudness)]
    assert len(_attacks(*tracks)) == 1


def test_a_crescendo_is_no_attack() -> None:
    """A level that only rises has no dip before it."""
    assert _attacks([-50.0 + 40.0 * i / _hops(0.1) for i in range(_hops(0.1))]) == [0]


def test_the_age_counts_from_the_bottom_of_the_dip() -> None:
    """After a re-strike nothing older than the dip's bottom is part of the sound."""
    articulation = Articulation(GateSettings(), RestrikeSettings(), HOP_S)
    for level in [-20.0] * 60 + [-45.0] * 20:
        articulation.step(level, level)
    first, second = articulation.step(-43.0, -43.0), articulation.step(-30.0, -30.0)
    assert (first.attack, second.attack) == (False, True)
    assert second.age_hops < 15


def test_an_echo_right_after_a_note_is_no_attack() -> None:
    """A room answers the end of a note within some ms; no tongue comes back that soon."""
    echo = [-20.0] * 60 + [-26.0, -32.0, -38.0] + [-40.0] * 6 + [-33.0, -30.0, -30.5, -32.0, -34.0, -36.0, -38.0]
    assert _attacks(echo + [-40.0] * 30) == [0]
    late = [-20.0] * 60 + [-26.0, -32.0, -38.0] + [-40.0] * 16 + [-32.0, -28.0, -24.0] + [-21.0] * 30
    assert len(_attacks(late)) == 2


def test_a_partial_that_fades_alone_is_no_attack() -> None:
    """In a room one strong partial may sink and swell by 15 dB while all others sound on."""
    gap = [-35.0] * _hops(0.02)
    levels = ([-20.0] * _hops(0.06) + gap) * 3 + [-20.0] * 50
    loudness = [level / 5.0 for level in levels]
    assert _attacks(levels, loudness) == [0]


def test_a_dip_counts_once_however_late_the_high_partials_come() -> None:
    """A recorded reed's level is up within some ms, its high partials 40 ms later."""
    levels = [-20.0] * 60 + [-45.0] * 20 + [-22.0] * 80
    loudness = [-20.0] * 60 + [-45.0] * 20 + [-40.0] * 5 + [-34.0] * 25 + [-28.0] * 6 + [-22.0] * 44
    assert len(_attacks(levels, loudness)) == 2
