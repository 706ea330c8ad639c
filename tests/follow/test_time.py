"""The two clocks of the frames: they only go forward, and ``time_s`` is the instant that a frame describes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.base.events import PitchFrame
from bridge.follow.reed_follower import hop_at
from follow.tones import RATE, follow_all, harmonic_tone
from sounds.rehearsed import rehearsed
from sounds.sampled import sampled

#: A harp in low F (hole-1 blow at 174.61 Hz, equal temperament), with room for its notes an octave lower too.
LOW_FLOOR_HZ = 82.0


def _goes_forward(frames: Sequence[PitchFrame], rate: int = RATE) -> None:
    """From frame to frame ``ready_s`` moves on by a hop, ``time_s`` by nearly half of one or more."""
    hop_s = hop_at(rate) / rate
    time, ready = (np.array([getattr(frame, name) for frame in frames]) for name in ("time_s", "ready_s"))
    assert np.all(time < ready)
    np.testing.assert_allclose(np.diff(ready), hop_s, rtol=1e-6)
    assert np.diff(time).min() > 0.49 * hop_s


@pytest.mark.parametrize("name", ["every hole", "tongued repeats", "phrase"])
def test_time_goes_forward_on_sampled_low_notes(name: str) -> None:
    """On sampled notes of a harp in low F no two frames describe the same instant."""
    _goes_forward(follow_all(sampled(name, "low-F").samples, floor_hz=LOW_FLOOR_HZ))


def test_time_goes_forward_through_the_rehearsal() -> None:
    """Nor do they in the rehearsal, with all that is played in it."""
    _goes_forward(follow_all(rehearsed("low-F", 2).samples, floor_hz=164.8))


_PARTS = st.tuples(st.sampled_from(["tone", "breath", "silence"]), st.floats(85.0, 1800.0), st.floats(0.0, 0.12))


@settings(max_examples=30, deadline=None)
@given(parts=st.lists(_PARTS, min_size=1, max_size=8), rate=st.sampled_from([8000, 22050, 48000]))
def test_time_goes_forward_whatever_sounds(parts: list[tuple[str, float, float]], rate: int) -> None:
    """Tones, breath and silence of any length joined anyhow, at high and low rates, never turn time back."""
    rng = np.random.default_rng(7)
    pieces: list[NDArray[np.float32]] = [np.zeros(1000, np.float32)]
    for kind, hz, seconds in parts:
        count = round(seconds * rate)
        if kind == "tone" and count:
            pieces.append(harmonic_tone(hz, seconds, rate=rate))
        else:
            pieces.append(np.asarray((kind == "breath") * 0.05 * rng.standard_normal(count), np.float32))
    _goes_forward(follow_all(np.concatenate(pieces), rate=rate, floor_hz=LOW_FLOOR_HZ), rate)


@pytest.mark.parametrize("hz", [87.3, 174.6, 523.3])
def test_the_search_looks_as_far_back_as_what_it_finds(hz: float) -> None:
    """A note's first pitched frame is set where half of what has sounded lies, to 4 ms; none before it is later."""
    begins_s = 0.1
    tone = np.concatenate([np.zeros(round(begins_s * RATE), np.float32), harmonic_tone(hz, 0.3)])
    frames = follow_all(tone, floor_hz=LOW_FLOOR_HZ)
    first = next(index for index, frame in enumerate(frames) if frame.hz > 0.0)
    sounded_s = frames[first].ready_s - begins_s
    assert frames[first].time_s == pytest.approx(begins_s + sounded_s / 2.0, abs=0.004)
    assert max(frame.time_s for frame in frames[:first]) < frames[first].time_s
