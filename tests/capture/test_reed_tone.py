"""The synthetic reed: its fundamental is what it says it is, and nothing else sounds where it must not."""

from __future__ import annotations

import numpy as np
import parselmouth
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.capture.reed_tone import FADE_TO, ReedVoice, breath_noise, integrate_phase, reed_tone

RATE = 48000
#: No breath and no uneven cycles: only harmonics.
BARE = ReedVoice(breath_db=-300.0, irregularity=0.0)


def steady(hz: float, voice: ReedVoice, seconds: float = 1.0, rate: int = RATE) -> NDArray[np.float64]:
    """A tone of one pitch."""
    return reed_tone(np.full(round(seconds * rate), hz), rate, voice, 0.02, np.random.default_rng(3))


def spectrum_db(samples: NDArray[np.float64]) -> NDArray[np.float64]:
    """Levels of the spectrum below its highest, dB; the side lobes of the window lie under -120 (Kaiser, beta 20)."""
    spectrum = np.abs(np.fft.rfft(samples * np.kaiser(len(samples), 20.0)))
    return np.asarray(20.0 * np.log10(np.maximum(spectrum / spectrum.max(), 1e-12)))


@given(from_hz=st.floats(80.0, 2000.0), by_hz=st.floats(-50.0, 1300.0))
def test_the_phase_is_the_exact_integral_of_the_frequency(from_hz: float, by_hz: float) -> None:
    """A frequency that rises linearly gives the phase of a linear chirp, 2 pi (f t + k t^2 / 2)."""
    time = np.arange(RATE // 4) / RATE
    phase = integrate_phase(from_hz + by_hz * time, RATE)
    np.testing.assert_allclose(phase, 2.0 * np.pi * (from_hz * time + by_hz * time**2 / 2.0), atol=1e-6)


@pytest.mark.parametrize("fundamental", [0.1, 0.7])
@pytest.mark.parametrize("hz", [174.61, 392.0, 987.77, 2093.0, 3136.0])
def test_a_steady_tone_has_its_pitch_by_praat(hz: float, fundamental: float) -> None:
    """With breath and any fundamental, Praat's autocorrelation (Boersma 1993) finds it within 0.2 cents."""
    samples = steady(hz, ReedVoice(fundamental=fundamental))
    pitch = parselmouth.Sound(samples, RATE).to_pitch_ac(pitch_floor=0.7 * hz, pitch_ceiling=1.4 * hz)
    found = pitch.selected_array["frequency"][pitch.xs() > 0.1]
    assert np.all(found > 0.0)
    assert abs(1200.0 * np.log2(np.median(found) / hz)) < 0.2


@pytest.mark.parametrize("fundamental", [0.1, 0.5, 1.0])
def test_the_first_two_harmonics_are_as_strong_as_the_voice_says(fundamental: float) -> None:
    """The fundamental stands to the second harmonic as the voice has it, and no other is stronger."""
    levels = spectrum_db(steady(400.0, ReedVoice(fundamental=fundamental, breath_db=-300.0, irregularity=0.0)))
    assert levels[400] - levels[800] == pytest.approx(20.0 * np.log10(fundamental), abs=0.1)
    assert levels[900:].max() < levels[800]


def test_brightness_lifts_the_upper_harmonics() -> None:
    """The eighth harmonic of a bright voice lies well above that of a dark one."""
    dark, bright = (
        spectrum_db(steady(400.0, ReedVoice(brightness=brightness, breath_db=-300.0)))[3200]
        for brightness in (0.0, 1.0)
    )
    assert bright - dark == pytest.approx(20.0, abs=0.5)


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
@pytest.mark.parametrize(("low_hz", "high_hz"), [(3136.0, 3136.0), (150.0, 1500.0), (3300.0, 2000.0)])
def test_no_partial_sounds_above_the_limit(low_hz: float, high_hz: float, rate: int) -> None:
    """Steady or gliding, a tone without breath has nothing above 0.45 of the rate, so nothing can fold back."""
    f0_hz = np.geomspace(low_hz, high_hz, rate)
    samples = reed_tone(f0_hz, rate, ReedVoice(breath_db=-300.0, brightness=1.0), 0.02, np.random.default_rng(4))
    levels = spectrum_db(samples)
    assert levels[int((FADE_TO + 0.005) * rate) :].max() < -90.0


def test_partials_fade_rather_than_stop_in_a_glide() -> None:
    """A glide moves partials over the limit without a click: no sample stands out against a smooth tone."""
    samples = reed_tone(np.geomspace(700.0, 1400.0, RATE), RATE, BARE, 0.02, np.random.default_rng(4))
    levels = spectrum_db(samples)
    assert levels[23000:].max() < -100.0


def test_a_settled_tone_has_unit_level() -> None:
    """The RMS is 1 once the first cycles are over, whatever the pitch."""
    for hz in (174.61, 500.0, 3136.0):
        assert np.sqrt(np.mean(steady(hz, BARE)[4800:] ** 2)) == pytest.approx(1.0, rel=0.01)


def test_the_first_cycles_are_uneven_and_then_it_settles() -> None:
    """Within twice the attack neighbouring cycles differ clearly; afterwards they are alike."""
    voice = ReedVoice(breath_db=-300.0, irregularity=0.6)
    cycles = steady(480.0, voice).reshape(-1, 100)
    unlike = np.sqrt(np.mean(np.diff(cycles, axis=0) ** 2, axis=1))
    assert unlike[:10].mean() > 0.1
    assert unlike[25:].max() < 1e-6


def test_breath_noise_has_unit_level_and_no_pitch() -> None:
    """Breath is noise of RMS 1 without anything above 0.45 of the rate, in which Praat finds no pitch."""
    noise = breath_noise(2**16, RATE, np.random.default_rng(5))
    assert np.sqrt(np.mean(noise**2)) == pytest.approx(1.0, rel=0.01)
    assert spectrum_db(noise)[int((FADE_TO + 0.005) * 2**16) :].max() < -90.0
    pitch = parselmouth.Sound(0.1 * noise, RATE).to_pitch_ac()
    assert np.mean(pitch.selected_array["frequency"] > 0.0) < 0.05
