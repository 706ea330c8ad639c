"""How soon a live performance answers the sound card, counted and never silent."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.base.timings import Timings

#: A change of the delay by so much, in seconds, is rated worse by players than a steady delay three times as long
#: (Jack, Mehrabi, Stockman and McPherson, Music Perception 36, 2018: 10 ms against 10 +- 3 ms).
_JITTER_S = 0.003
#: A read that finds more of the card's calls than this waiting was held up.
_BEHIND = 4


class LiveTiming:
    """Times from each call of the sound card to when the outputs have been sent all that came of it.

    ``sent`` holds them, ``overruns`` counts blocks that took longer than they last, ``behind`` the reads that found
    more than four of the card's calls waiting. ``block_s`` is how long a block of the card lasts.
    """

    def __init__(self, block_s: float) -> None:
        self.sent = Timings(max(_JITTER_S, block_s))
        self.overruns = 0
        self.behind = 0

    def count(self, calls_s: Sequence[float], began_s: float, done_s: float, lasts_s: float) -> None:
        """One block: when its calls came, when the work on it began and was done, and how long it lasts, in seconds."""
        for called_s in calls_s:
            self.sent.add(done_s - called_s)
        self.overruns += bool(calls_s) and done_s - began_s > lasts_s
        self.behind += len(calls_s) > _BEHIND

    def told(self) -> tuple[float, float, int]:
        """What a status tells of it: seconds that half and 99 of 100 blocks took at most, and how many were late."""
        return self.sent.quantile(0.5), self.sent.quantile(0.99), self.sent.over

    def words(self) -> str:
        """All of it in one line."""
        sent = self.sent
        half, most, worst = (1000.0 * seconds for seconds in (*self.told()[:2], sent.most_s))
        line = f"From sound card to what is sent: {half:.1f} ms, 99 of 100 within {most:.1f}, the longest {worst:.1f}"
        late = f"; {sent.over} of {sent.count} blocks later than {1000.0 * sent.limit_s:.1f} ms" if sent.over else ""
        return f"{line}{late}; {self.overruns} took longer to work out than they last."
