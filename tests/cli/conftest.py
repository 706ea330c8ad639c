"""A recording for the tests of the commands."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

_RATE = 48000


@pytest.fixture
def tone(tmp_path: Path) -> Path:
    """A recording of one steady reed-like tone of 0.6 s on B4, draw 3 of a C harp, between silences."""
    time = np.arange(round(1.2 * _RATE)) / _RATE
    wave = sum(0.2 / n * np.sin(2 * np.pi * 493.883 * n * time) for n in (1, 2, 3, 4))
    sounding = np.interp(time, [0.0, 0.3, 0.32, 0.88, 0.9, 1.2], [0, 0, 1, 1, 0, 0])
    file = tmp_path / "draw three.wav"
    soundfile.write(file, wave * sounding, _RATE)
    return file
