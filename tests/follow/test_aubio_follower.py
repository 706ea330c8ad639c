"""The library's methods behind our level, gate and articulation."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.base.events import PitchFrame
from bridge.follow.settings import AubioSettings, FollowSettings
from follow.tones import RATE, cents_off, follow_all, harmonic_tone

Method = Literal["yinfft", "yinfast", "yin", "fcomb", "mcomb", "schmitt"]
METHODS: tuple[Method, ...] = ("yinfft", "yinfast", "yin", "fcomb", "mcomb", "schmitt")


def heard(samples: NDArray[np.float32], aubio: AubioSettings) -> list[PitchFrame]:
    """What the follower makes of the samples."""
    return follow_all(samples, settings=FollowSettings(follower="aubio", aubio=aubio), floor_hz=165.0)


@pytest.mark.parametrize("method", METHODS)
def test_a_clear_note_is_believed_by_every_method(method: Method) -> None:
    """A settled tone at 440 Hz is surely one reed, whatever a method says of its own confidence."""
    frames = [frame for frame in heard(harmonic_tone(440.0), AubioSettings(method=method)) if frame.ready_s > 0.1]
    assert np.median(np.abs(cents_off(frames, 440.0))) < 50.0
    assert all(frame.confidence > 0.9 and frame.clean > 0.9 for frame in frames if frame.hz)


@pytest.mark.parametrize("method", ["yin", "yinfast"])
def test_noise_is_doubted_where_the_method_can_tell(method: Method) -> None:
    """In loud noise the confidence of the two methods that have one is low."""
    noise = (0.1 * np.random.default_rng(1).standard_normal(RATE)).astype(np.float32)
    frames = [frame for frame in heard(noise, AubioSettings(method=method)) if frame.hz]
    assert np.median([frame.confidence for frame in frames] or [0.0]) < 0.4


@pytest.mark.parametrize("hop", [32, 128, 512, 1024])
def test_a_low_held_reed_is_struck_once(hop: int) -> None:
    """The level of a reed at 175 Hz over hum at -50 dBFS does not ripple into strokes, at any hop."""
    tone = np.concatenate([np.zeros(4800, np.float32), harmonic_tone(175.0, 1.0)])
    hum = 10.0 ** (-50.0 / 20.0) * np.sin(2.0 * np.pi * 50.0 * np.arange(len(tone)) / RATE)
    frames = heard((tone + hum).astype(np.float32), AubioSettings(method="yinfast", window=2048, hop=hop))
    struck = [frame.ready_s for frame in frames if frame.attack]
    assert struck == pytest.approx([0.1], abs=0.03)


def test_a_reed_tongued_twice_is_struck_twice() -> None:
    """A gap of 30 ms between two tones at the same pitch gives a second attack, where the second one begins."""
    tone = harmonic_tone(440.0, 0.2)
    samples = np.concatenate([np.zeros(4800, np.float32), tone, np.zeros(1440, np.float32), tone])
    struck = [frame.ready_s for frame in heard(samples, AubioSettings(method="yinfast")) if frame.attack]
    assert struck == pytest.approx([0.1, 0.33], abs=0.012)


def test_hum_alone_stays_silent() -> None:
    """Mains hum of 50 Hz at -45 dBFS lies below the harp, so that the gate stays shut."""
    hum = 10.0 ** (-45.0 / 20.0) * np.sqrt(2.0) * np.sin(2.0 * np.pi * 50.0 * np.arange(RATE) / RATE)
    frames = follow_all(
        hum.astype(np.float32), settings=FollowSettings(follower="aubio", aubio=AubioSettings()), floor_hz=247.0
    )
    assert not any(frame.hz or frame.attack for frame in frames)
