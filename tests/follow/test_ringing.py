"""A new note while the old one still rings: it is neither of them that both repeat together."""

from __future__ import annotations

import numpy as np
import pytest

from follow.tones import RATE, follow_all, harmonic_tone


@pytest.mark.parametrize("semitones", [4, 5, 7, -5])
@pytest.mark.parametrize("old_hz", [440.0, 784.0, 1175.0])
def test_what_two_notes_have_in_common_is_no_note(old_hz: float, semitones: int) -> None:
    """Over a ring of the same strength, 20 dB down in 30 ms, the new note is never told an octave or more too low."""
    new_hz = old_hz * 2.0 ** (semitones / 12.0)
    count = round(0.4 * RATE)
    old, new = harmonic_tone(old_hz, 0.8), harmonic_tone(new_hz, 0.4)
    seconds = np.arange(count) / RATE
    ring = old[count:] * 10.0 ** (-seconds / 0.03)
    sound = np.concatenate([old[:count], ring + new * np.minimum(1.0, seconds / 0.015)]).astype(np.float32)
    frames = [frame for frame in follow_all(sound, floor_hz=165.0) if frame.hz > 0.0]
    lowest = min(old_hz, new_hz)
    assert min(frame.hz for frame in frames) > 0.8 * lowest
    late = [frame.hz for frame in frames if frame.time_s > 0.5]
    assert 1200.0 * np.log2(np.array(late) / new_hz) == pytest.approx(0.0, abs=10.0)
