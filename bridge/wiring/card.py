"""The sound card as the engine sees it: in a process of its own, and in another one when that fails."""

from __future__ import annotations

import time
from multiprocessing import get_context

from bridge.base.clock import SystemClock, WallClock
from bridge.base.errors import ClosedError, UserError
from bridge.base.events import AudioBlock
from bridge.base.handoff import HandOff
from bridge.base.timings import Timings
from bridge.capture.microphone import count_gaps
from bridge.capture.ring import SampleRing
from bridge.capture.settings import CaptureSettings
from bridge.capture.source import Source, no_sound_yet, without_nonsense
from bridge.wiring.card_process import WORD_BYTES, WORDS, CardSetup, HoldCard, Opened, Refused, hold_card, read_word
from bridge.wiring.log_file import LOG
from bridge.wiring.notice import Notice
from bridge.wiring.steady import signals_held

_MOST_S = 0.05
#: A gap between two calls of the sound card is late when it is so many times as long as a block lasts.
_LATE = 2.0
#: A card that has not called for so long is taken for gone, in seconds: many times the longest block (4096 at 8 kHz).
_SILENT_S = 1.0
#: Another process is tried so often, in seconds, and given so long to open the card: a sound server may hang as well.
_RETRY_S = 1.0
_OPENING_S = 3.0
#: At the very start a slow machine is given more.
_FIRST_S = 15.0
#: A process that is asked to end is given so long before it is ended.
_ENDING_S = 1.0
_LOOK_S = 0.05


class Card(Source):
    """One channel of a sound card, or the mean of two, from a process that is replaced when it dies or hangs.

    As long as there is no sound ``read`` gives no samples; when there is again, ``start`` jumps over the time that
    passed. ``notice`` hears when the sound stops and when it is back. ``rate`` and ``name`` are certain once open.
    ``intervals`` counts the gaps between the card's calls, ``replaced`` how often another process took over.
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
        self.replaced = 0
        self.latency_s = 0.0
        self.notice = notice
        self.intervals = Timings(_LATE * settings.block / settings.rate_hz)
        self._settings = settings
        self._clock = clock or SystemClock()
        self._hold = hold
        self._held: _Holder | None = None
        self._first: Opened | None = None
        self._is_open = False
        self._runs = False
        self._tried_s = 0.0
        self._lost = self._dropouts = 0
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
        word = self._begin().wait_for_word(_FIRST_S)
        if not isinstance(word, Opened):
            self.close()
            silent = f"The sound input {self.name} does not answer. Check that the sound system runs, and try again."
            raise UserError(silent if word is None else word.text)
        self._first, self._runs, self._is_open = word, True, True
        self.name, self.rate, self.latency_s = word.device.name, word.rate, word.latency_s
        self.intervals = Timings(_LATE * self._settings.block / self.rate)
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
        """Give what has come since, at most 50 ms of it; never None, since another process takes over at the end.

        Raises UserError when the card comes back at another rate.
        """
        if not self._is_open:
            raise ClosedError(f"{self.name} was read while it was not open")
        self.calls_s = ()
        held = self._held
        if held is None:
            self._clock.sleep(timeout_s)
            if self._clock.now() - self._tried_s >= _RETRY_S:
                self._begin()
            return no_sound_yet(self._next, self.rate)
        heard = held.ring.read(round(_MOST_S * self.rate), timeout_s)
        self.dropouts = self._dropouts + held.ring.dropouts
        if not self._runs:
            self._look_for_word(held)
        elif not len(heard.samples):
            self._watch(held)
        if not self._runs or not len(heard.samples):
            return no_sound_yet(self._next, self.rate)
        end = heard.start + len(heard.samples)
        if heard.calls_s:
            if not held.heard:
                self._join_on(heard.calls_s[-1], end)
            held.heard = True
            self.calls_s = heard.calls_s
            self._called_s = count_gaps(self.intervals, self._called_s, heard.calls_s)
        sound, wrong = without_nonsense(heard.samples)
        self.repaired += wrong
        self._next = self._offset + end
        return AudioBlock(self._offset + heard.start, self.rate, sound)

    def close(self) -> None:
        """End the process; one that hangs is killed. What was counted stays."""
        self._is_open = self._runs = False
        held = self._let_go()
        if held is not None:
            held.end(_ENDING_S)

    def _begin(self) -> _Holder:
        """Start a process that tries to open the card."""
        self._tried_s = self._clock.now()
        before = self._first.device if self._first is not None else None
        settings = self._settings.model_copy(update={"rate_hz": self.rate})
        self._held = _Holder(self._hold, CardSetup(settings, before), self._ring_size())
        return self._held

    def _ring_size(self) -> int:
        """Samples that the ring holds at the rate that is set."""
        return max(4 * self._settings.block, round(self._settings.ring_seconds * self.rate))

    def _look_for_word(self, held: _Holder) -> None:
        """See whether a process that was started anew has its card."""
        word = held.word()
        if isinstance(word, Opened):
            if word.rate != self.rate:
                raise UserError(
                    f"The sound input {self.name} came back at {word.rate} samples a second; this performance began at "
                    f"{self.rate}. Begin again, or set the sound system back."
                )
            self._runs = True
            self._tried_s = self._clock.now()
        elif word is not None or not held.alive or self._clock.now() - self._tried_s > _OPENING_S:
            self._drop(held)

    def _watch(self, held: _Holder) -> None:
        """No sound came: see whether the process lives and its card still calls."""
        last_s = held.ring.last_call_s or self._tried_s
        if held.ring.ended or not held.alive or self._clock.now() - max(last_s, self._tried_s) > _SILENT_S:
            self._runs = False
            if held.heard:
                self.replaced += 1
                self.notice(f"The sound input {self.name} stopped. Trying again ...")
            self._drop(held)

    def _drop(self, held: _Holder) -> None:
        """Kill a process that is of no use."""
        self._let_go()
        held.kill()

    def _let_go(self) -> _Holder | None:
        """Keep what the process counted, and forget it."""
        held, self._held = self._held, None
        if held is not None:
            self._lost += held.ring.lost
            self._dropouts += held.ring.dropouts
        return held

    def _join_on(self, called_s: float, end: int) -> None:
        """Find the place in the stream of what a process gives first: its sample ``end`` came at ``called_s``."""
        if self._called_s is None:
            return
        passed = round((called_s - self._called_s) * self.rate)
        self._offset = max(self._next, self._next + passed - end)
        self._called_s = None
        self.notice("The sound input is back.")


class _Holder:
    """A process that holds the card, its ring and its words. ``heard`` says whether any sound has come from it."""

    def __init__(self, hold: HoldCard, setup: CardSetup, capacity: int) -> None:
        self.heard = False
        self.ring = SampleRing(capacity)
        self._words = HandOff(WORD_BYTES, WORDS)
        self._process = get_context("spawn").Process(
            target=hold, args=(setup, self.ring.writer, self._words), name="reedwire-card", daemon=True
        )
        with signals_held():
            self._process.start()
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
