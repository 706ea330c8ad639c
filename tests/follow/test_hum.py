"""Mains hum is told from all else that sounds in a room; its level is that of the sines it is made of.

Source: the mean square of a sine of amplitude A is A**2 / 2 (any textbook). 50 and 60 Hz: IEC 60038.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.follow.hum import Hum, HumMeter
from follow.tones import RATE, blocks_of, harmonic_tone
from sounds.dirt import pink_noise

SECONDS = 5
TIME = np.arange(SECONDS * RATE) / RATE


def room(noise_db: float = -60.0) -> NDArray[np.float64]:
    """Pink noise of that RMS, dBFS."""
    noise = pink_noise(len(TIME), RATE)
    return np.asarray(10.0 ** (noise_db / 20.0) * noise / np.std(noise))


def sines(parts: dict[float, float]) -> NDArray[np.float64]:
    """Sines by Hz and amplitude."""
    return np.asarray(np.sum([size * np.sin(2.0 * np.pi * hz * TIME + hz) for hz, size in parts.items()], axis=0))


def heard(sound: NDArray[np.float64], rate: int = RATE) -> Hum | None:
    """What is made of it."""
    meter = HumMeter(rate)
    for block in blocks_of(sound.astype(np.float32), 128, rate):
        meter.hear(block)
    return meter.hum()


@pytest.mark.parametrize("mains", [50, 60])
@pytest.mark.parametrize("strays", [1.0, 0.997, 1.003])
@pytest.mark.parametrize("weights", [(1.0, 0.5, 0.35, 0.0, 0.15), (0.0, 1.0, 0.0, 0.5, 0.0, 0.3)], ids=["loop", "lamp"])
def test_hum_is_named_and_measured(mains: int, strays: float, weights: tuple[float, ...]) -> None:
    """With a strong first line or without any, and where the mains strays: within 1 dB."""
    parts = {strays * mains * times: 0.005 * share for times, share in enumerate(weights, start=1) if share}
    made_db = 10.0 * math.log10(sum(size**2 / 2.0 for size in parts.values()))
    hum = heard(sines(parts) + room())
    assert hum is not None
    assert hum.mains_hz == mains
    assert hum.level_db == pytest.approx(made_db, abs=1.0)


@pytest.mark.parametrize("rate", [44100, 96000])
def test_it_is_the_same_at_other_rates(rate: int) -> None:
    """A second of sound is a second."""
    time = np.arange(SECONDS * rate) / rate
    hum = heard(0.01 * (np.sin(2 * np.pi * 50 * time) + np.sin(2 * np.pi * 150 * time)), rate)
    assert hum is not None
    assert hum.level_db == pytest.approx(-40.0, abs=0.5)


@pytest.mark.parametrize(
    "sound",
    [
        room(-40.0),
        1e-3 * np.random.default_rng(1).standard_normal(len(TIME)),
        np.zeros(len(TIME)),
        room() + sines({97.0: 0.01, 194.0: 0.005, 291.0: 0.002}),
        room() + sines({50.0: 0.01}),
        *(room() + harmonic_tone(440.0 * 2.0 ** ((midi - 69) / 12), SECONDS) for midi in range(36, 98)),
    ],
    ids=["pink", "white", "nothing", "fan", "one line", *(f"note {midi}" for midi in range(36, 98))],
)
def test_nothing_else_is_taken_for_hum(sound: NDArray[np.float64]) -> None:
    """Noise, a fan that turns at 97 Hz, a single tone, and any note from C2 to C#7, although F4 is 349.2 Hz."""
    assert heard(sound) is None


def test_less_than_a_second_tells_nothing() -> None:
    """There is no spectrum of it."""
    assert heard(sines({50.0: 0.1, 100.0: 0.1})[: RATE - 1]) is None


@pytest.mark.parametrize(("level_db", "matters"), [(-59.0, True), (-61.0, False)])
def test_hum_far_under_the_harp_needs_no_cure(level_db: float, matters: bool) -> None:
    """Forty decibels under a harp at -20 dBFS (common practice, no source)."""
    assert Hum(50, level_db).matters(-20.0) is matters
