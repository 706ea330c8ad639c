"""The count-in as sound: short, quiet clicks, the first one higher."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Highest sample of a click, dBFS: to be heard beside a harp, and never loud.
PEAK_DB = -26.0
_FIRST_HZ, _OTHER_HZ = 2400.0, 1800.0
_CLICK_S, _DECAY_S = 0.03, 0.006


def count_in(beats: int, beat_s: float, length_s: float, rate: int, lead_s: float = 0.0) -> NDArray[np.float32]:
    """``beats`` clicks, one every ``beat_s`` seconds from ``lead_s`` on, and silence up to ``length_s``.

    Shape (n,) at ``rate`` Hz, full scale +-1.
    """
    sound = np.zeros(round(length_s * rate), np.float32)
    time_s = np.arange(round(_CLICK_S * rate)) / rate
    for beat in range(beats):
        hz = _OTHER_HZ if beat else _FIRST_HZ
        click = np.sin(2.0 * np.pi * hz * time_s) * np.exp(-time_s / _DECAY_S)
        start = round((lead_s + beat * beat_s) * rate)
        part = sound[start : start + len(click)]
        part[:] = (10.0 ** (PEAK_DB / 20.0) * click / np.max(np.abs(click)))[: len(part)]
    return sound
