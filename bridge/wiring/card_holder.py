"""One process that holds the sound card, as the engine sees it: its ring, its words and its end."""

from __future__ import annotations

import time
from multiprocessing import get_context

from bridge.base.errors import UserError
from bridge.base.handoff import HandOff
from bridge.capture.ring import SampleRing
from bridge.wiring.card_process import WORD_BYTES, WORDS, CardSetup, HoldCard, Opened, Refused, read_word
from bridge.wiring.steady import signals_held

_LOOK_S = 0.05


class CardHolder:
    """A process that holds the card, its ring for ``capacity`` samples and its words.

    ``heard`` says whether any sound has come from it. Raises UserError when the system refuses the process, a socket or
    the memory; nothing is left of it then.
    """

    def __init__(self, hold: HoldCard, setup: CardSetup, capacity: int) -> None:
        self.heard = False
        try:
            self.ring = SampleRing(capacity)
            self._start(hold, setup)
        except OSError as error:
            raise UserError(
                f"The system refused to start what listens to the sound card ({error.strerror or error}): close other "
                "programs."
            ) from error

    def _start(self, hold: HoldCard, setup: CardSetup) -> None:
        """Start the process; the ring is let go of when it cannot be started."""
        try:
            self._words = HandOff(WORD_BYTES, WORDS)
            self._process = get_context("spawn").Process(
                target=hold, args=(setup, self.ring.writer, self._words), name="reedwire-card", daemon=True
            )
            with signals_held():
                self._process.start()
        except (OSError, UserError):
            self.ring.close()
            raise
        # Only the process itself holds that side now: its end is seen at once.
        self.ring.writer.close()

    @property
    def alive(self) -> bool:
        """Whether the process runs."""
        return self._process.is_alive()

    def word(self) -> Opened | Refused | None:
        """What it has said since; None when nothing."""
        data = self._words.pop()
        return None if data is None else read_word(data)

    def wait_for_word(self, patience_s: float) -> Opened | Refused | None:
        """Wait for its first word; None when it ends without one, or takes longer than ``patience_s`` seconds."""
        until = time.monotonic() + patience_s
        while (word := self.word()) is None and self.alive and time.monotonic() < until:
            self.ring.wait(_LOOK_S)
        return word or self.word()

    def kill(self) -> None:
        """End it at once, whatever it hangs in, without waiting for that."""
        self._process.kill()
        self.ring.close()

    def end(self, patience_s: float) -> None:
        """Let it close the card, and kill it when that takes longer than ``patience_s`` seconds."""
        self.ring.close()
        self._process.join(patience_s)
        if self._process.is_alive():
            self._process.kill()
            self._process.join(patience_s)
