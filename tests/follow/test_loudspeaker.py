"""Finding the chirp again, on returns whose delay and gain are made by shifting its spectrum (exact for any delay)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from bridge.follow.loudspeaker import (
    LEVELS_DB,
    LoudspeakerReturn,
    chirp,
    find_return,
    headphones_needed,
    together,
    under_the_harp_db,
)
from sounds.dirt import room_response

RATE = 48000
Floats = NDArray[np.float64]


def returned(sent: Floats, delay: float, gain_db: float, noise_db: float, seed: int = 0) -> Floats:
    """The sound ``delay`` samples (any part of one too) later, over white noise of that RMS."""
    size = 2 * len(sent)
    spectrum = np.fft.rfft(sent, size)
    turned = spectrum * np.exp(-2j * np.pi * np.arange(len(spectrum)) * delay / size)
    noise = 10.0 ** (noise_db / 20.0) * np.random.default_rng(seed).standard_normal(len(sent))
    return np.asarray(np.fft.irfft(turned, size)[: len(sent)] * 10.0 ** (gain_db / 20.0) + noise)


@pytest.mark.parametrize("rate", [16000, 44100, 48000])
@pytest.mark.parametrize(("delay_ms", "gain_db"), [(0.0, 0.0), (3.21, -6.0), (15.0, -12.0), (250.0, -20.0)])
def test_delay_and_gain_are_found(rate: int, delay_ms: float, gain_db: float) -> None:
    """Within 0.1 ms and 0.3 dB in a quiet room."""
    sent = chirp(rate, LEVELS_DB[0])
    found = find_return(sent, returned(sent, delay_ms * rate / 1000.0, gain_db, -85.0), rate)
    assert found is not None
    assert 1000.0 * found.delay_s == pytest.approx(delay_ms, abs=0.1)
    assert found.gain_db == pytest.approx(gain_db, abs=0.3)
    assert not found.clipped


@pytest.mark.parametrize("seed", range(5))
def test_a_return_under_the_noise_is_still_found(seed: int) -> None:
    """10 dB under the noise: within 1 ms, 1 dB."""
    sent = chirp(RATE, LEVELS_DB[0])
    found = find_return(sent, returned(sent, 720.0, -10.0, LEVELS_DB[0], seed), RATE)
    assert found is not None
    assert found.delay_s == pytest.approx(0.015, abs=0.001)
    assert found.gain_db == pytest.approx(-10.0, abs=1.0)


@pytest.mark.parametrize("seed", range(20))
def test_where_nothing_comes_back_nothing_is_found(seed: int) -> None:
    """Neither in noise, nor in a harp-like tone, nor in silence."""
    sent = chirp(RATE, LEVELS_DB[0])
    noise = 0.01 * np.random.default_rng(seed).standard_normal(len(sent))
    tone = 0.1 * np.sin(2.0 * np.pi * (300.0 + 150.0 * seed) * np.arange(len(sent)) / RATE)
    assert find_return(sent, noise, RATE) is None
    assert find_return(sent, noise + tone, RATE) is None
    assert find_return(sent, np.zeros(len(sent)), RATE) is None
    assert find_return(sent, np.zeros(0), RATE) is None


def test_in_a_room_the_way_straight_to_the_microphone_counts() -> None:
    """Reflections smear the return: the delay is the first arrival's, and the level is that of all that arrives."""
    sent = chirp(RATE, -30.0)
    response = room_response(RATE)
    response = response / np.max(np.abs(response))
    first = int(np.argmax(np.abs(response) >= 0.5))
    heard = fftconvolve(sent, np.concatenate([np.zeros(480), response]))[: len(sent)] * 0.1
    during = heard[np.flatnonzero(sent)[0] + 480 + first :][: round(0.2 * RATE)]
    found = find_return(sent, heard + 1e-5 * np.random.default_rng(1).standard_normal(len(heard)), RATE)
    assert found is not None
    assert found.delay_s == pytest.approx((480 + first) / RATE, abs=0.001)
    power_db = 10.0 * np.log10(np.mean(during**2)) + 30.0
    assert found.gain_db == pytest.approx(power_db, abs=1.5)


def test_an_overloaded_microphone_is_told() -> None:
    """A return cut at full scale is found, and needs headphones however it looks."""
    sent = chirp(RATE, LEVELS_DB[-1])
    found = find_return(sent, np.clip(returned(sent, 720.0, 40.0, -60.0), -1.0, 1.0), RATE)
    assert found is not None
    assert found.clipped
    assert found.delay_s == pytest.approx(0.015, abs=0.001)
    assert headphones_needed(found)


@pytest.mark.parametrize(
    ("gain_db", "needed"), [(6.0, True), (-12.0, True), (-19.0, True), (-21.0, False), (-40.0, False)]
)
def test_headphones_are_asked_for_by_the_rule(gain_db: float, needed: bool) -> None:
    """20 dB under the harp is the border (our own rule)."""
    found = LoudspeakerReturn(0.01, gain_db, 100.0, clipped=False)
    assert under_the_harp_db(found) == pytest.approx(-gain_db)
    assert headphones_needed(found) is needed


def test_several_measurements_are_one() -> None:
    """Medians; one that overloaded counts."""
    several = [LoudspeakerReturn(0.01 * n, -10.0 * n, 50.0 / n, clipped=n == 1) for n in (1, 2, 9)]
    assert together(several) == LoudspeakerReturn(0.02, -20.0, 50.0 / 9, clipped=True)


@pytest.mark.parametrize("rate", [8000, 48000])
def test_the_chirp_is_as_loud_as_asked_and_begins_and_ends_softly(rate: int) -> None:
    """Its RMS, silence around it, and no step at its edges."""
    sound = chirp(rate, -46.0)
    inside = np.flatnonzero(sound)
    part = sound[inside[0] - 1 : inside[-1] + 1]
    assert 10.0 * np.log10(np.sum(part**2) / (0.2 * rate)) == pytest.approx(-46.0, abs=0.01)
    assert np.max(np.abs(part[: rate // 1000])) < 0.05 * np.max(np.abs(part))
    assert not sound[: round(0.09 * rate)].any()
    assert not sound[-round(0.5 * rate) :].any()
