"""Parts and multiples of a period: the lower reed of an octave that comes in, and reeds that are none."""

from __future__ import annotations

import numpy as np
import pytest

from follow.tones import RATE, cents_off, follow_all, harmonic_tone

#: The upper reed speaks so much earlier, seconds: 5 to 20 ms on sampled octaves (measured).
_LEAD_S = 0.012


def _octave(lower_hz: float, lower_level: float) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    """Both reeds of an octave after a rest of 0.1 s, the upper one first, the lower one up within 10 ms."""
    upper = harmonic_tone(2.0 * lower_hz, 0.4)
    lower = lower_level * harmonic_tone(lower_hz, 0.4)
    late = round(_LEAD_S * RATE)
    rise = np.minimum(1.0, np.arange(len(lower)) / (0.010 * RATE))
    both = upper.copy()
    both[late:] += (lower * rise).astype(np.float32)[: len(both) - late]
    both[:240] *= np.linspace(0.0, 1.0, 240, dtype=np.float32)
    return np.concatenate([np.zeros(RATE // 10, np.float32), both])


@pytest.mark.parametrize("lower_hz", [196.0, 293.66, 392.0, 587.33])
@pytest.mark.parametrize(("lower_level", "within_s"), [(0.5, 0.005), (0.2, 0.009)])
def test_the_lower_reed_takes_over_at_once(lower_hz: float, lower_level: float, within_s: float) -> None:
    """6 dB softer than the upper one it has the pitch within 5 ms and 1.5 of its periods, 14 dB softer within 9 ms."""
    frames = [frame for frame in follow_all(_octave(lower_hz, lower_level)) if frame.hz > 0.0]
    assert cents_off(frames[:1], lower_hz)[0] == pytest.approx(1200.0, abs=30.0)
    due_s = 0.1 + _LEAD_S + within_s + 1.5 / lower_hz
    late = cents_off([frame for frame in frames if due_s < frame.ready_s < 0.45], lower_hz)
    assert len(late) > 150
    assert np.max(np.abs(late)) < 20.0


@pytest.mark.parametrize("hz", [220.0, 466.16, 987.77, 1760.0, 2489.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_single_reed_is_an_octave_lower(hz: float, seed: int) -> None:
    """Reeds of random partials that begin softly, in breath 30 dB below, bend and swing: never an octave below."""
    rng = np.random.default_rng(seed)
    partials = (rng.uniform(0.2, 1.0, 12) / np.arange(1, 13)).tolist()
    seconds = np.arange(round(0.4 * RATE)) / RATE
    cents = -80.0 * np.exp(-seconds / 0.02) + 60.0 * np.sin(2.0 * np.pi * 6.0 * seconds)
    tone = harmonic_tone(hz * 2.0 ** (cents / 1200.0), 0.4, partials=partials)
    tone *= np.minimum(1.0, seconds / 0.015).astype(np.float32)
    breath = (10.0 ** (-30.0 / 20.0) * 0.2 * rng.standard_normal(len(tone))).astype(np.float32)
    off = cents_off(follow_all(tone + breath), hz)
    assert len(off) > 200
    assert np.min(off) > -300.0
