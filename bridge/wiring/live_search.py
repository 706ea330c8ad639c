"""Which harp is played, found while it is: nothing is sent until the first phrase has told it.

Notes are sent from the place of the third, which only a known root gives, so a guess would send wrong ones; and a synth
that changes its mind in front of people is worse than one that waits for a phrase.
"""

from __future__ import annotations

from collections import deque
from functools import partial

from bridge.base.errors import UserError
from bridge.base.events import Event, NoteOff, NoteOn
from bridge.harp.harp import Harp, make_harp
from bridge.study.held import Held, HeldPitches
from bridge.study.likely_harp import Likely, likely_harp
from bridge.wiring.asking import Asking
from bridge.wiring.chain import Chain
from bridge.wiring.harp_words import either, sure_words, uncertain_words
from bridge.wiring.notice import Notice

#: Points of a note that count: so far apart, and so long from its beginning, in seconds.
EVERY_S, FIRST_S = 0.008, 4.0
#: The last pitches that are asked about; more of them only take longer.
_MOST_HELD = 40
#: After so many pitches or seconds the likelier harp is taken though it is not sure.
_ENOUGH_HELD, _ENOUGH_S = 32, 20.0
#: A harp is sure once two answers in a row are that name it, this many pitches apart. One alone is not enough: of many
#: looks at a growing phrase the luckiest counts (of 300 made-up phrases 4 went wrong by one, none by two).
_APART = 3
#: Who does not rest is asked about after so many pitches.
_EVERY_HELD = 6
_FIRST = "Which harp is it? Play a phrase and rest; until it is known nothing is sent."


class HarpSearch:
    """Looks for the harp while ``chain`` has one that is ``sought``, and until the answer is sure.

    ``attend`` is to be called between blocks; it takes a harp while nothing sounds or, as long as nothing is sent, also
    between two notes. A harp that the player names meanwhile ends the search.
    """

    def __init__(self, chain: Chain, asking: Asking[Likely | None], notice: Notice) -> None:
        self._chain = chain
        self._asking = asking
        self._notice = notice
        self._pitches = HeldPitches(EVERY_S, FIRST_S)
        self._held: deque[Held] = deque(maxlen=_MOST_HELD)
        self._heard = self._asked_at = 0
        self._new = self._between_notes = False
        self._found: Likely | None = None
        self._sure_of: tuple[str, int] | None = None
        self._sure_since = 0
        self._told: tuple[tuple[str, int], ...] = ()
        self._in_hand = chain.held
        self._kind = chain.harp
        self.ended = not chain.held.sought
        if not self.ended:
            chain.add_learner(self._hear)
            notice(_FIRST)

    @staticmethod
    def given_up(reason: str) -> str:
        """What to say when the harp cannot be found, for that reason."""
        return f"The harp is no longer sought: {reason}; name its key."

    def attend(self) -> None:
        """Take an answer that has come, and ask anew where there is more to ask about."""
        if self.ended:
            return
        if not self._is_in_hand():
            self.ended = True
            return
        if self._asking.busy:
            self._found = self._asking.answer() or self._found
        rests, sought = self._chain.quiet, self._chain.held.sought
        if self._found is not None and (rests or (sought and self._between_notes)):
            found, self._found = self._found, None
            self._judge(found)
        self._between_notes = False
        due = self._new if rests else sought and self._heard - self._asked_at >= _EVERY_HELD
        if due and not self._asking.busy and not self.ended:
            self._new = False
            self._asked_at = self._heard
            self._asking.ask(partial(_likely, tuple(self._held), self._kind))

    def outcome(self) -> str:
        """What to say at the end; nothing where the harp was found or named."""
        if not self._chain.held.sought:
            return ""
        return (
            f"The harp was not found, so nothing was sent: {self._heard} pitches were held. Play a longer phrase, or "
            "name the harp's key with --harp."
        )

    def _is_in_hand(self) -> bool:
        """Whether the harp is still the one that was taken here, whatever its A4; else the player has named another."""
        now, taken = self._chain.held, self._in_hand
        same = (now.harp.key, now.harp.position) == (taken.harp.key, taken.harp.position)
        return same and now.file is None and now.sought == taken.sought

    def _hear(self, event: Event) -> None:
        held = self._pitches.take(event)
        self._between_notes |= isinstance(event, NoteOn | NoteOff)
        if held:
            self._held += held
            self._heard += len(held)
            self._new = True

    def _judge(self, found: Likely) -> None:
        enough = self._heard >= _ENOUGH_HELD or self._chain.now_s - self._held[0].start_s >= _ENOUGH_S
        if self._is_sure(found):
            self.ended = True
            self._take(found)
            self._notice(_sentence(sure_words(found)))
        elif enough and self._chain.held.sought:
            self._take(found)
            self._notice(_sentence(uncertain_words(found)))
        elif self._pair(found) != self._told:
            self._notice(f"Not sure yet: {either(found)}. Play on.")
        self._told = self._pair(found)

    def _is_sure(self, found: Likely) -> bool:
        """Whether this answer and one some notes ago are sure of the same harp, and all between them too."""
        of = (found.key, found.position) if found.sure else None
        if of is None or of != self._sure_of:
            self._sure_of, self._sure_since = of, self._asked_at
            return False
        return self._asked_at - self._sure_since >= _APART

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
