"""The sound card as the engine sees it: in a process of its own, and in another one when that fails."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bridge.base.clock import SystemClock, WallClock
from bridge.base.errors import ClosedError, UserError
from bridge.base.events import AudioBlock
from bridge.capture.settings import CaptureSettings
from bridge.capture.source import MOST_S, Source, no_sound_yet, without_nonsense
from bridge.wiring.card_holder import CardHolder
from bridge.wiring.card_process import CardSetup, HoldCard, Opened, hold_card
from bridge.wiring.log_file import LOG
from bridge.wiring.notice import Notice

#: A card that has not called for so long is taken for gone, in seconds: many times the longest block (4096 at 8 kHz).
_SILENT_S = 1.0
#: Samples that are all exactly 0 for so long, in seconds, come from a switch, a plug or a level, not from a room.
_DEAD_S = 10.0
#: Another process is tried so often, in seconds, and given so long to open the card: a sound server may hang as well.
_RETRY_S = 1.0
_OPENING_S = 3.0
#: At the very start a slow machine is given more.
_FIRST_S = 15.0
#: A process that is asked to end is given so long before it is ended.
_ENDING_S = 1.0


class Card(Source):
    """One channel of a sound card, or the mean of two, from a process that is replaced when it dies or hangs.

    As long as there is no sound ``read`` gives no samples; when there is again, ``start`` jumps over the time that
    passed. ``notice`` hears when the sound stops, each new reason why it stays away, and when it is back. ``rate`` and
    ``name`` are certain once open.
    """

    live = True
    endless = True

    def __init__(
        self,
        settings: CaptureSettings,
        notice: Notice = lambda _: None,
        clock: WallClock | None = None,
        hold: HoldCard = hold_card,
    ) -> None:
        self.name = str(settings.input)
        self.rate = settings.rate_hz
        self.dropouts = 0
        self.repaired = 0
        self.latency_s = 0.0
        self.notice = notice
        self._settings = settings
        self._clock = clock or SystemClock()
        self._hold = hold
        self._held: CardHolder | None = None
        self._first: Opened | None = None
        self._is_open = False
        self._runs = False
        self._tried_s = 0.0
        self._lost = self._dropouts = 0
        self._sounded, self._dead_samples = False, 0
        #: Whether it was told that there is no sound, and the last reason that was told.
        self._told_gone = False
        self._why = ""
        #: When the call came that ends with the sample before the next; None before the first.
        self._called_s: float | None = None
        #: The index of the next sample, and the place in the stream of the first one of the process that runs.
        self._next = self._offset = 0

    @property
    def lost(self) -> int:
        """How many samples were lost because they were not read in time."""
        return self._lost + (self._held.ring.lost if self._held is not None else 0)

    def open(self) -> None:
        """Start the process and wait for its card. Raises UserError when there is none or it cannot be started."""
        self.close()
        self._next = self._offset = 0
        self._called_s = self._first = None
        self._told_gone, self._why = False, ""
        word = self._begin().wait_for_word(_FIRST_S)
        if not isinstance(word, Opened):
            self.close()
            silent = f"The sound input {self.name} does not answer. Check that the sound system runs, and try again."
            raise UserError(silent if word is None else word.text)
        self._first, self._runs, self._is_open = word, True, True
        self.name, self.rate, self.latency_s = word.device.name, word.rate, word.latency_s
        self._tried_s = self._clock.now()
        block_ms = 1000.0 * self._settings.block / self.rate
        LOG.info(
            "sound input: %s, %s Hz, blocks of %.1f ms, latency %.1f ms",
            self.name,
            self.rate,
            block_ms,
            1000.0 * self.latency_s,
        )
        LOG.info("priority of its process: %s", "real-time" if word.raised else "refused")

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give what has come since, at most 50 ms of it; never None, since another process takes over at the end."""
        if not self._is_open:
            raise ClosedError(f"{self.name} was read while it was not open")
        self.calls_s = ()
        held = self._held
        if held is None:
            self._clock.sleep(timeout_s)
            if self._clock.now() - self._tried_s >= _RETRY_S:
                self._try_again()
            return no_sound_yet(self._next, self.rate)
        heard = held.ring.read(round(MOST_S * self.rate), timeout_s)
        self.dropouts = self._dropouts + held.ring.dropouts
        if not self._runs:
            self._look_for_word(held)
        elif not len(heard.samples):
            self._watch(held)
        if not self._runs or not len(heard.samples):
            return no_sound_yet(self._next, self.rate)
        end = heard.start + len(heard.samples)
        if not held.heard:
            self._join_on(held)
        if heard.calls_s:
            self.calls_s = heard.calls_s
            self._called_s = heard.calls_s[-1]
        sound, wrong = without_nonsense(heard.samples)
        self.repaired += wrong
        self._mind_silence(sound)
        self._next = self._offset + end
        return AudioBlock(self._offset + heard.start, self.rate, sound)

    def _mind_silence(self, sound: NDArray[np.float32]) -> None:
        """Tell once of a card that gives nothing at all, which no microphone does: each has some noise."""
        if self._sounded:
            return
        self._sounded = bool(np.any(sound))
        self._dead_samples += len(sound)
        if not self._sounded and self._dead_samples >= _DEAD_S * self.rate:
            self._sounded = True
            self.notice(
                f"Nothing but silence comes from the sound input {self.name}. Check its switch, its plug and its "
                "level; reedwire check tells more."
            )

    def close(self) -> None:
        """End the process; one that hangs is killed. What was counted stays."""
        self._is_open = self._runs = False
        held = self._let_go()
        if held is not None:
            held.end(_ENDING_S)

    def _begin(self) -> CardHolder:
        """Start a process that tries to open the card. Raises UserError when the system refuses it."""
        self._tried_s = self._clock.now()
        before = self._first.device if self._first is not None else None
        settings = self._settings.model_copy(update={"rate_hz": self.rate})
        self._held = CardHolder(self._hold, CardSetup(settings, before), self._ring_size())
        return self._held

    def _try_again(self) -> None:
        """Start another process; where the system refuses that, it may not do so the next time."""
        try:
            self._begin()
        except UserError as error:
            self._tell_why(str(error))

    def _tell_why(self, text: str) -> None:
        """Log why there is no sound yet, and tell it once as long as it stays the same."""
        LOG.info("the sound input is not back: %s", text)
        if text != self._why:
            self._why = text
            self.notice(text)

    def _ring_size(self) -> int:
        """Samples that the ring holds at the rate that is set."""
        return max(4 * self._settings.block, round(self._settings.ring_seconds * self.rate))

    def _look_for_word(self, held: CardHolder) -> None:
        """See whether a process that was started anew has its card."""
        word = held.word()
        if isinstance(word, Opened):
            self._take_up(held, word)
        elif word is not None:
            self._tell_why(word.text)
            self._drop(held)
        elif not held.alive or self._clock.now() - self._tried_s > _OPENING_S:
            LOG.info("the sound input is not back: it does not answer")
            self._drop(held)

    def _take_up(self, held: CardHolder, word: Opened) -> None:
        """Go on with a card that was opened anew, unless it runs at another rate, which a performance cannot change."""
        if word.rate != self.rate:
            self._tell_why(
                f"The sound input {self.name} came back at {word.rate} samples a second, this performance runs at "
                f"{self.rate}: set the sound system back, or end and begin again."
            )
            self._drop(held)
            return
        self._runs = True
        self._tried_s = self._clock.now()

    def _watch(self, held: CardHolder) -> None:
        """No sound came: see whether the process lives and its card still calls."""
        last = held.ring.last_call
        last_s = self._tried_s if last is None else max(last[1], self._tried_s)
        if held.ring.ended or not held.alive or self._clock.now() - last_s > _SILENT_S:
            self._runs = False
            what = "stopped" if held.heard else "gives no sound"
            LOG.info("the sound input %s", what)
            if not self._told_gone:
                self._told_gone = True
                self.notice(f"The sound input {self.name} {what}. Trying again ...")
            self._drop(held)

    def _drop(self, held: CardHolder) -> None:
        """Kill a process that is of no use."""
        self._let_go()
        held.kill()

    def _let_go(self) -> CardHolder | None:
        """Keep what the process counted, and forget it."""
        held, self._held = self._held, None
        if held is not None:
            self._lost += held.ring.lost
            self._dropouts += held.ring.dropouts
        return held

    def _join_on(self, held: CardHolder) -> None:
        """Find the place in the stream of the sound that a process begins to give, by when its card last called.

        A block may last longer than what is read at once: its call is known before all of it has been read.
        """
        held.heard = True
        last = held.ring.last_call
        if self._called_s is not None and last is not None:
            end, called_s = last
            passed = round((called_s - self._called_s) * self.rate)
            self._offset = max(self._next, self._next + passed - end)
        if self._told_gone:
            self._told_gone, self._why = False, ""
            self.notice("The sound input is back.")
