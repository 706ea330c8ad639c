"""Taps of a key become the tempo of the take that is being played."""

from __future__ import annotations

from bridge.study.tempo_taps import FEWEST, TempoTaps
from bridge.takes.tempo import FASTEST, SLOWEST
from bridge.wiring.notice import Notice
from bridge.wiring.take_process import TakeProcess

_NO_TAKE = "What you tap is the tempo of a take: --take DIR keeps one."


class Tapping:
    """Hands what is tapped to the ``writer`` of the take (None: none is kept) and says what came of it."""

    def __init__(self, writer: TakeProcess | None, notice: Notice) -> None:
        self._writer = writer
        self._notice = notice
        self._taps = TempoTaps()
        self._told = False

    def tap(self, time_s: float) -> None:
        """A quarter begins at this second of the stream."""
        if self._writer is None:
            if not self._told:
                self._notice(_NO_TAKE)
            self._told = True
            return
        tapped = self._taps.tap(time_s)
        if tapped is None or not SLOWEST <= tapped[0] <= FASTEST:
            return
        self._writer.use_tempo(*tapped)
        # Again from time to time, as it becomes surer; at each tap it would be a flicker.
        if self._taps.count % FEWEST == 0:
            self._notice(f"Tapped: {tapped[0]:.1f} quarters a minute, bar 1 at {tapped[1]:.2f} s.")
