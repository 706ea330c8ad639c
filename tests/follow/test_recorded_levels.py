"""The levels of a recording, on notes and pauses whose levels are known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.follow.recorded_levels import RecordedLevels, RecordingMeter
from follow.tones import RATE, blocks_of, harmonic_tone


def levels(samples: NDArray[np.float32]) -> RecordedLevels:
    """What is measured of these samples."""
    meter = RecordingMeter(RATE, 247.0)
    for block in blocks_of(samples, RATE):
        meter.hear(block)
    return meter.levels()


def recording(noise_db: float, *, paused: bool = True) -> NDArray[np.float32]:
    """Two seconds of a tone of RMS 0.2 (-14 dBFS), a second of pause, twice, over white noise of that RMS."""
    noise = 10.0 ** (noise_db / 20.0) * np.random.default_rng(5).standard_normal(6 * RATE)
    tone = harmonic_tone(440.0, 6.0) * (np.arange(6 * RATE) % (3 * RATE) < 2 * RATE if paused else 1.0)
    return np.asarray(noise + tone, np.float32)


def test_pauses_and_playing_are_told_apart() -> None:
    """The playing is at the tone's -14 dBFS, the pauses at the noise's in its band, and the peak is the sound's."""
    found = levels(recording(-60.0))
    assert found.has_pauses
    assert found.seconds == pytest.approx(6.0)
    assert found.playing_db == pytest.approx(-14.0, abs=0.5)
    assert found.pauses_db == pytest.approx(-60.0 - 3.9, abs=1.5)
    assert found.peak_db == pytest.approx(20.0 * np.log10(np.max(np.abs(recording(-60.0)))), abs=0.01)
    assert found.room().open_db > found.pauses_db + 6.0
    assert found.room().open_db < found.playing_db


def test_a_recording_without_pauses_does_not_tell_its_noise() -> None:
    """Nor does one that is nothing but noise."""
    assert not levels(recording(-60.0, paused=False)).has_pauses
    assert not levels(recording(-60.0, paused=False)[:0]).has_pauses
    assert not levels(np.asarray(np.random.default_rng(1).standard_normal(RATE) * 0.01, np.float32)).has_pauses


def test_overloaded_places_are_counted() -> None:
    """Runs at full scale count one each; a single sample there does not."""
    samples = recording(-60.0)
    assert levels(samples).clipped == 0
    samples[1000] = 1.0
    samples[2000:2010] = 1.0
    samples[3000:3003] = -1.0
    assert levels(samples).clipped == 2
