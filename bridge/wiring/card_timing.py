"""How evenly a sound card calls, and how long the work on a block of it takes."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.base.timings import Timings
from bridge.wiring.live_timing import LiveTiming


class CardTiming:
    """Counts what a sound card does; ``block_s`` is how long one of its blocks lasts.

    ``rhythm`` holds how it calls, ``work`` how long a block took to work out, and ``answer`` the time from call to what
    is sent.
    """

    def __init__(self, block_s: float) -> None:
        self.block_s = block_s
        self.work = Timings(block_s)
        self.answer = LiveTiming(block_s)
        self.rhythm = self.answer.rhythm

    def worked(self, calls_s: Sequence[float], began_s: float, done_s: float, lasts_s: float) -> None:
        """A read of ``lasts_s`` seconds of sound, in these calls, was worked on from ``began_s`` to ``done_s``."""
        self.answer.count(calls_s, began_s, done_s, lasts_s)
        if lasts_s > 0.0:
            self.work.add((done_s - began_s) * self.block_s / lasts_s)
