"""How evenly a sound card calls, and how long the work on a block of it takes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bridge.base.timings import Timings
from bridge.wiring.live_timing import LiveTiming

#: Calls nearer than this part of a block belong to one bunch: a sound server with a longer period hands over several.
_SAME_BUNCH = 0.5


class CardTiming:
    """Counts what a sound card does; ``block_s`` is how long one of its blocks lasts.

    ``between`` holds the times from one bunch of calls to the next (a bunch is one call where card and program agree on
    the block), ``work`` how long a block took to work out, and ``answer`` the time from call to what is sent.
    """

    def __init__(self, block_s: float) -> None:
        self.block_s = block_s
        self.between = Timings(2.0 * block_s)
        self.work = Timings(block_s)
        self.answer = LiveTiming(block_s)
        self._bunch_s: float | None = None
        self._call_s = 0.0

    @property
    def blocks_at_once(self) -> int:
        """How many blocks the card hands over at once, as a rule: a busy machine may tear a bunch apart."""
        # The count tells the upper edge of a step: the middle of it is meant.
        usual_s = self.between.quantile(0.5) / math.sqrt(Timings.STEP)
        return max(1, round(usual_s / self.block_s))

    @property
    def handed_s(self) -> float:
        """How much sound that is, in seconds."""
        return self.blocks_at_once * self.block_s

    @property
    def uneven_s(self) -> float:
        """By how much 99 of 100 calls are late at most, in seconds."""
        return max(0.0, self.between.quantile(0.99) - self.handed_s)

    def called(self, calls_s: Sequence[float]) -> None:
        """The card called at these times, in monotonic seconds."""
        for called_s in calls_s:
            if self._bunch_s is None:
                self._bunch_s = called_s
            elif called_s - self._call_s > _SAME_BUNCH * self.block_s:
                self.between.add(called_s - self._bunch_s)
                self._bunch_s = called_s
            self._call_s = called_s

    def worked(self, calls_s: Sequence[float], began_s: float, done_s: float, lasts_s: float) -> None:
        """A read of ``lasts_s`` seconds of sound was worked on from ``began_s`` to ``done_s``."""
        self.answer.count(calls_s, began_s, done_s, lasts_s)
        if lasts_s > 0.0:
            self.work.add((done_s - began_s) * self.block_s / lasts_s)
