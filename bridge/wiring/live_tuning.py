"""The A4 of the harp in hand, brought to where the player's own straight notes have it, while they play."""

from __future__ import annotations

from collections import deque
from functools import partial

from bridge.base.events import Event, NoteOn
from bridge.base.units import cents_between, clip, hz_above
from bridge.harp.harp import Harp
from bridge.study.held import Held, HeldPitches
from bridge.study.near_zero import MOST_CENTS, with_near_zero
from bridge.study.zero import Zero, find_zero
from bridge.wiring.asking import Asking
from bridge.wiring.chain import Chain
from bridge.wiring.harp_words import told_by
from bridge.wiring.live_search import EVERY_S, FIRST_S
from bridge.wiring.notice import Notice

#: The last pitches that tell it: older ones were played on a colder harp.
_MOST_HELD = 40
#: A zero less sure than this, one standard deviation in cents, is not believed.
_SURE_CENTS = 4.0
#: One that lies nearer than this, cents, or nearer than twice what it is uncertain by, changes nothing.
_LEAST_CENTS, _CLEARLY = 2.0, 2.0
#: From so near, cents, the straight notes alone tell it, which takes a tenth of the time.
_NEAR_CENTS = 15.0
#: How far one rest may move it, cents: less than most people notice.
_STEP_CENTS = 5.0


class LiveTuning:
    """Tunes the harp of ``chain`` by straight notes held steadily, roots first, in small steps and between notes only.

    In one rest there is one step. ``attend`` is to be called between blocks. No harp is moved further than half a
    semitone from the A4 it was taken up with, and none that has a harp file.
    """

    def __init__(self, chain: Chain, asking: Asking[Zero | None], notice: Notice) -> None:
        self._chain = chain
        self._asking = asking
        self._notice = notice
        self._harp = self._asked_of = chain.held
        self._began_hz = chain.harp.a4_hz
        self._pitches = HeldPitches(EVERY_S, FIRST_S)
        self._held: deque[Held] = deque(maxlen=_MOST_HELD)
        self._zero: Zero | None = None
        self._new = self._is_near = self._moved = False
        chain.add_learner(self._hear)

    @staticmethod
    def given_up(reason: str) -> str:
        """What to say when A4 cannot be learned, for that reason."""
        return f"A4 is no longer learned: {reason}; the playing goes on."

    def attend(self) -> None:
        """Take an answer that has come, and ask anew where there is more to ask about."""
        if self._chain.held is not self._harp:
            self._begin_on_harp()
        if self._asking.busy:
            answer = self._asking.answer()
            # What was asked of the harp before says nothing of this one.
            self._zero = answer or self._zero if self._asked_of is self._harp else None
        if self._harp.sought or self._harp.file is not None or not self._chain.quiet:
            return
        if self._zero is not None and not self._moved:
            zero, self._zero = self._zero, None
            self._move_to(zero)
        if self._new and not self._asking.busy:
            self._new = False
            self._asked_of = self._harp
            self._asking.ask(partial(_zero, tuple(self._held), self._harp.harp, is_near=self._is_near))

    def outcome(self) -> str:
        """What to say at the end; nothing where the A4 of the harp in hand was never moved."""
        a4_hz = self._chain.harp.a4_hz
        return "" if a4_hz == self._began_hz else f"A4 was {a4_hz:.1f} Hz at the end."

    def _begin_on_harp(self) -> None:
        """The player has taken up another harp: what was heard so far says nothing of it."""
        self._harp = self._chain.held
        self._began_hz = self._harp.harp.a4_hz
        self._held.clear()
        self._zero = None
        self._new = self._is_near = self._moved = False

    def _hear(self, event: Event) -> None:
        if isinstance(event, NoteOn):
            self._moved = False
        held = self._pitches.take(event)
        if held:
            self._held += held
            self._new = True

    def _move_to(self, zero: Zero) -> None:
        now_hz = self._chain.harp.a4_hz
        within = clip(cents_between(zero.a4_hz, self._began_hz), -MOST_CENTS, MOST_CENTS)
        wanted_hz = hz_above(self._began_hz, within)
        off = cents_between(wanted_hz, now_hz)
        if zero.spread_cents > _SURE_CENTS:
            return
        self._is_near = abs(off) <= _NEAR_CENTS
        if abs(off) < max(_LEAST_CENTS, _CLEARLY * zero.spread_cents):
            return
        self._chain.retune(hz_above(now_hz, clip(off, -_STEP_CENTS, _STEP_CENTS)))
        self._harp, self._moved = self._chain.held, True
        way = f", on the way to {wanted_hz:.1f} Hz" if abs(off) > _STEP_CENTS else ""
        self._notice(f"A4 taken as {self._chain.harp.a4_hz:.1f} Hz{way}, {told_by(zero)}.")


def _zero(held: tuple[Held, ...], harp: Harp, *, is_near: bool) -> Zero | None:
    return find_zero(held, harp if is_near else with_near_zero(held, harp))
