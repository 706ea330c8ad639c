"""Which harp is played, found while it is: nothing is sent until the first phrase has told it.

Notes are sent from the place of the third, which only a known root gives, so a guess would send wrong ones; and a synth
that changes its mind in front of people is worse than one that waits for a phrase.
"""

from __future__ import annotations

from collections import deque
from functools import partial

from bridge.base.errors import UserError
from bridge.base.events import Event
from bridge.harp.harp import Harp, make_harp
from bridge.study.held import Held, HeldPitches
from bridge.study.likely_harp import Likely, likely_harp
from bridge.wiring.asking import Asking
from bridge.wiring.chain import Chain
from bridge.wiring.harp_words import either, likely_words
from bridge.wiring.notice import Notice

#: Points of a note that count: so far apart, and so long from its beginning, in seconds.
EVERY_S, FIRST_S = 0.008, 4.0
#: The last pitches that are asked about; more of them only take longer.
_MOST_HELD = 40
#: After so many pitches or seconds the likelier harp is taken though it is not sure.
_ENOUGH_HELD, _ENOUGH_S = 32, 20.0
_FIRST = "Which harp is it? Play a phrase and rest; until it is known nothing is sent."


class HarpSearch:
    """Looks for the harp while ``chain`` has one that is ``sought``, and until the answer is sure.

    ``attend`` is to be called between blocks; it takes a harp only while nothing sounds. A harp that the player names
    meanwhile ends the search.
    """

    def __init__(self, chain: Chain, asking: Asking[Likely | None], notice: Notice) -> None:
        self._chain = chain
        self._asking = asking
        self._notice = notice
        self._pitches = HeldPitches(EVERY_S, FIRST_S)
        self._held: deque[Held] = deque(maxlen=_MOST_HELD)
        self._heard = 0
        self._new = False
        self._found: Likely | None = None
        self._told: tuple[tuple[str, int], ...] = ()
        self._in_hand = chain.held
        self._kind = chain.harp
        self.ended = not chain.held.sought
        if not self.ended:
            chain.add_learner(self._hear)
            notice(_FIRST)

    def attend(self) -> None:
        """Take an answer that has come, and ask anew where there is more to ask about."""
        if self.ended:
            return
        if not self._is_in_hand():
            self.ended = True
            return
        if self._asking.busy:
            self._found = self._asking.answer() or self._found
        if not self._chain.quiet:
            return
        if self._found is not None:
            found, self._found = self._found, None
            self._judge(found)
        if self._new and not self._asking.busy and not self.ended:
            self._new = False
            self._asking.ask(partial(_likely, tuple(self._held), self._kind))

    def _is_in_hand(self) -> bool:
        """Whether the harp is still the one that was taken here, whatever its A4; else the player has named another."""
        now, taken = self._chain.held, self._in_hand
        same = (now.harp.key, now.harp.position) == (taken.harp.key, taken.harp.position)
        return same and now.file is None and now.sought == taken.sought

    def _hear(self, event: Event) -> None:
        held = self._pitches.take(event)
        if held:
            self._held += held
            self._heard += len(held)
            self._new = True

    def _judge(self, found: Likely) -> None:
        enough = self._heard >= _ENOUGH_HELD or self._chain.now_s - self._held[0].start_s >= _ENOUGH_S
        if found.sure:
            self.ended = True
            self._take(found)
            self._notice(_sentence(likely_words(found)))
        elif enough and self._chain.held.sought:
            self._take(found)
            self._notice(_sentence(likely_words(found)))
        elif self._pair(found) != self._told:
            self._notice(f"Not sure yet: {either(found)}. Play on.")
        self._told = self._pair(found)

    def _take(self, found: Likely) -> None:
        """Go on with the harp that was found, unless it is the one in hand."""
        harp = self._chain.harp
        if not self._chain.held.sought and (harp.key, harp.position) == (found.key, found.position):
            return
        kind = self._kind
        a4_hz = round(found.a4_hz, 2)
        self._chain.take_found(make_harp(found.key, found.position, a4_hz, kind.layout, kind.temperament))
        self._in_hand = self._chain.held

    @staticmethod
    def _pair(found: Likely) -> tuple[tuple[str, int], ...]:
        return (found.key, found.position), (found.runner_up.key, found.runner_up.position)


def _likely(held: tuple[Held, ...], kind: Harp) -> Likely | None:
    """The answer, None as long as too few notes were held; the player only rests."""
    try:
        return likely_harp(held, kind, goes_on=True)
    except UserError:
        return None


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:]
