"""How soon a live performance answers the sound card, counted and never silent."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.base.timings import Timings
from bridge.wiring.card_rhythm import CardRhythm

#: A change of the delay by so much, in seconds, is rated worse by players than a steady delay three times as long
#: (Jack, Mehrabi, Stockman and McPherson, Music Perception 36, 2018: 10 ms against 10 +- 3 ms).
_JITTER_S = 0.003
#: Work that begins more than so many blocks after the card's call was held up.
_BEHIND = 4.0


class LiveTiming:
    """Times from each call of the sound card to when the outputs have been sent all that came of it.

    ``sent`` holds them, ``rhythm`` how evenly the card called, ``overruns`` counts blocks that took longer than they
    last, ``behind`` the times that work began more than four blocks late. ``block_s`` is how long a block of the card
    lasts.
    """

    def __init__(self, block_s: float) -> None:
        self.sent = Timings(max(_JITTER_S, block_s))
        self.rhythm = CardRhythm(block_s)
        self.overruns = 0
        self.behind = 0

    def count(self, calls_s: Sequence[float], began_s: float, done_s: float, lasts_s: float) -> None:
        """One block: when its calls came, when the work on it began and was done, and how long it lasts, in seconds."""
        self.rhythm.called(calls_s)
        for called_s in calls_s:
            self.sent.add(done_s - called_s)
        self.overruns += bool(calls_s) and done_s - began_s > lasts_s
        self.behind += bool(calls_s) and began_s - calls_s[0] > max(_JITTER_S, _BEHIND * self.rhythm.block_s)

    def told(self) -> tuple[float, float, int]:
        """What a status tells of it: seconds that half and 99 of 100 blocks took at most, and how many were late."""
        return self.sent.quantile(0.5), self.sent.quantile(0.99), self.sent.over

    def words(self) -> tuple[str, ...]:
        """All of it in a line or two: how soon sound was answered, and how evenly the card called."""
        return (self._answer_words(), self._card_words()) if self.rhythm.between.count else (self._answer_words(),)

    def _answer_words(self) -> str:
        """How soon."""
        sent = self.sent
        half, most, worst = (1000.0 * seconds for seconds in (*self.told()[:2], sent.most_s))
        line = f"From sound card to what is sent: {half:.1f} ms, 99 of 100 within {most:.1f}, the longest {worst:.1f}"
        late = f"; {sent.over} of {sent.count} blocks later than {1000.0 * sent.limit_s:.1f} ms" if sent.over else ""
        return f"{line}{late}; {self.overruns} took longer to work out than they last."

    def _card_words(self) -> str:
        """How evenly."""
        every_ms, latest_ms = 1000.0 * self.rhythm.handed_s, 1000.0 * self.rhythm.latest_s
        line = f"The sound card called every {every_ms:.1f} ms, at worst {latest_ms:.1f} ms late"
        if not self.behind:
            return f"{line}."
        return f"{line}; {'once' if self.behind == 1 else f'{self.behind} times'} the work was held up."
