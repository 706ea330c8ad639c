"""How open a sound is heard to be, whatever its level, its pitch and the noise around it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.capture.reed_tone import breath_noise
from bridge.follow.timbre import Brightness, cleanness
from follow.tones import RATE, harmonic_tone
from sounds import sampled
from sounds.gestures import low_passed

HOP = 64
CORNERS_HZ = np.geomspace(1000.0, 6000.0, 8).tolist()


def readings(samples: NDArray[np.floating], hz: float, likeness: float = 1.0) -> list[float]:
    """The reading at every hop of a sound of one pitch, from 50 ms on."""
    brightness, held = Brightness(RATE, HOP / RATE), samples.astype(np.float64)
    return [brightness.step(held, end, hz, likeness) for end in range(2400, len(held), HOP)]


@pytest.mark.parametrize("key", ["low-F", "C", "high-G"])
def test_it_rises_with_every_step_that_a_low_pass_opens(key: str) -> None:
    """On every reed of a sampled harp the reading follows a low-pass (Butterworth's formula) from 1 to 6 kHz."""
    sound = sampled.sampled("every hole", key)
    opened = [low_passed(sound.samples, sound.rate, corner) for corner in CORNERS_HZ]
    for note in sound.notes:
        inside = slice(round((note.end_s - 0.2) * RATE), round((note.end_s - 0.02) * RATE))
        bright = [float(np.median(readings(samples[inside], note.settled_hz))) for samples in opened]
        assert min(np.diff(bright)) > 0.003, (note.midi, bright)


@pytest.mark.parametrize("hz", [196.0, 440.0, 932.0, 2093.0])
def test_level_does_not_matter_even_over_the_noise_of_a_room(hz: float) -> None:
    """Twenty dB softer over noise at -60 dBFS reads the same within 0.05."""
    tone = harmonic_tone(hz, 0.6).astype(np.float64)
    noise = 10.0 ** (-60.0 / 20.0) * breath_noise(len(tone), RATE, np.random.default_rng(5))
    loud, soft = (readings(tone * 10.0 ** (down / 20.0) + noise, hz) for down in (0.0, -20.0))
    assert max(np.abs(np.subtract(loud, soft))) < 0.05


def test_a_pure_tone_is_dark_and_a_buzz_is_bright() -> None:
    """A sine reads 0; partials of equal strength (a pulse) read near 1."""
    assert max(readings(harmonic_tone(440.0, partials=[1.0]), 440.0)) == 0.0
    assert min(readings(harmonic_tone(440.0, partials=[1.0] * 20), 440.0)) > 0.9


def test_the_same_spectrum_an_octave_away_reads_nearly_the_same() -> None:
    """A wrong octave of the follower moves the reading by less than 0.1."""
    tone = harmonic_tone(440.0)
    assert np.median(readings(tone, 220.0)) == pytest.approx(np.median(readings(tone, 440.0)), abs=0.1)


def test_an_unsure_moment_keeps_the_last_reading() -> None:
    """Where the sound does not repeat, nothing is read."""
    brightness, tone = Brightness(RATE, HOP / RATE), harmonic_tone(440.0).astype(np.float64)
    assert brightness.step(tone, 4800, 440.0, 0.3) == 0.5
    first = brightness.step(tone, 4800, 440.0, 1.0)
    assert brightness.step(np.zeros(9600), 9600, 440.0, 0.3) == first
    assert brightness.step(np.zeros(9600), 9600, 440.0, 1.0) == first


def test_it_moves_smoothly_and_begins_afresh_after_a_rest() -> None:
    """From one spectrum to another it takes some 20 ms; after a rest the first reading stands at once."""
    brightness = Brightness(RATE, HOP / RATE)
    dark, light = (harmonic_tone(440.0, partials=p).astype(np.float64) for p in ([1.0, 0.3], [1.0] * 12))
    low = brightness.step(dark, 4800, 440.0, 1.0)
    steps = [brightness.step(light, 4800, 440.0, 1.0) for _ in range(60)]
    assert max(np.diff([low, *steps])) < 0.06
    assert steps[14] - low == pytest.approx((1.0 - np.exp(-1.0)) * (steps[-1] - low), rel=0.1)
    brightness.rest()
    assert brightness.step(dark, 4800, 440.0, 1.0) == pytest.approx(low)


def test_cleanness_counts_from_half_alike() -> None:
    """0 up to a likeness of 0.5, 1 from 0.95 on."""
    clean = [cleanness(likeness) for likeness in (0.2, 0.5, 0.725, 0.95, 1.0)]
    assert clean == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])
