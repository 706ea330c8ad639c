"""What the machine's clock says of the stream: at which of its seconds the sound is that comes in now."""

from __future__ import annotations

import math

#: So many seconds of the past are looked at, and as many before them: clocks drift little meanwhile.
_SPAN_S = 2.0


class StreamClock:
    """The stream's seconds by those of the machine's monotonic clock.

    Sound may be told of late, never early: of the last seconds that is right which says earliest.
    """

    def __init__(self) -> None:
        self._begun_s = -math.inf
        self._before = self._now = math.inf

    def add(self, ready_s: float, came_s: float) -> None:
        """Sound up to ``ready_s`` of the stream had come in by ``came_s`` of the clock."""
        if came_s - self._begun_s > _SPAN_S:
            self._before, self._now, self._begun_s = self._now, math.inf, came_s
        self._now = min(self._now, came_s - ready_s)

    def at(self, clock_s: float) -> float | None:
        """Which second of the stream comes in at ``clock_s``; None before anything has."""
        offset_s = min(self._before, self._now)
        return None if math.isinf(offset_s) else clock_s - offset_s
