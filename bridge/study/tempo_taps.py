"""A tempo from a key that is tapped in time."""

from __future__ import annotations

import numpy as np

#: Taps that make a tempo: a bar of four counted in.
FEWEST = 4
#: What comes sooner is a key that bounces, s; what comes later, as a multiple of the taps so far or in s, begins anew.
_BOUNCE_S, _PAUSE, _PAUSE_S = 0.1, 1.8, 3.0


class TempoTaps:
    """Taps one after the other, each at its second of the stream; a pause begins a new count."""

    def __init__(self) -> None:
        self._times: list[float] = []

    @property
    def count(self) -> int:
        """How many taps the count has by now."""
        return len(self._times)

    def tap(self, time_s: float) -> tuple[float, float] | None:
        """Quarters a minute, and the second of the first tap, where bar 1 begins; None until there are four taps.

        Both are those of the line that fits all taps best, so that no single one decides.
        """
        times = self._times
        if times and time_s - times[-1] < _BOUNCE_S:
            return None
        longest_s = _PAUSE * (times[-1] - times[0]) / (len(times) - 1) if len(times) > 1 else _PAUSE_S
        if times and time_s - times[-1] > min(longest_s, _PAUSE_S):
            times.clear()
        times.append(time_s)
        if len(times) < FEWEST:
            return None
        quarter_s, first_s = np.polyfit(np.arange(len(times)), times, 1)
        return 60.0 / float(quarter_s), float(first_s)
