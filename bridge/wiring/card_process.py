"""The process that holds the sound card, so that a driver that hangs can be replaced while everything else goes on."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.base.handoff import HandOff
from bridge.capture.devices import SoundDevice
from bridge.capture.microphone import CardStream
from bridge.capture.ring import RingWriter
from bridge.capture.settings import CaptureSettings
from bridge.wiring.helper_faults import fault_kept
from bridge.wiring.steady import STOP_SIGNALS, ignore_signals

#: The longest word that the process sends: a list of devices to choose from may be long.
WORD_BYTES = 16384
WORDS = 4
#: One above the engine, which may take longer than a block lasts; it sleeps nearly all the time.
_PRIORITY = 11


@dataclass(frozen=True, slots=True)
class CardSetup:
    """Which device to open: what the settings ask for, or again the one that was there ``before``."""

    settings: CaptureSettings
    before: SoundDevice | None = None


@dataclass(frozen=True, slots=True)
class Opened:
    """The device that runs now, its rate in Hz and its latency in seconds; ``raised`` whether with priority."""

    device: SoundDevice
    rate: int
    latency_s: float
    raised: bool


@dataclass(frozen=True, slots=True)
class Refused:
    """Why no device runs, in words for the user."""

    text: str


#: What holds the card: a function of an importable module.
HoldCard = Callable[[CardSetup, RingWriter, HandOff], None]


def hold_card(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """Be the process: open the card, say so in ``words``, and let it write into ``ring`` until the engine is gone.

    Signals that ask to stop are for the engine to hear; it ends this by closing its side of the ring.
    """
    ignore_signals()
    signal.pthread_sigmask(signal.SIG_UNBLOCK, STOP_SIGNALS)
    with fault_kept("card"):
        _hold(setup, ring, words)


def _hold(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """Hold the card until the engine closes the ring."""
    # Before the card is opened: the thread that calls back is born with it.
    raised = _raise_priority()
    stream = CardStream(setup.settings, SystemClock())
    try:
        device = stream.find(setup.before)
        stream.start(ring)
    except UserError as error:
        tell(words, ring, Refused(str(error)))
        return
    tell(words, ring, Opened(device, stream.rate, stream.latency_s, raised))
    ring.wait_for_end()
    stream.close()


def tell(words: HandOff, ring: RingWriter, word: Opened | Refused) -> None:
    """Send one word to the engine, and wake it."""
    data = json.dumps(asdict(word)).encode()
    words.push(data if len(data) <= WORD_BYTES else json.dumps({"text": str(word)[:4000]}).encode())
    ring.wake()


def read_word(data: bytes) -> Opened | Refused:
    """The word that :func:`tell` sent."""
    fields = json.loads(data)
    if "device" not in fields:
        return Refused(fields["text"])
    return Opened(SoundDevice(**fields.pop("device")), **fields)


def _raise_priority() -> bool:
    """Try for real-time priority; whether it was given. The engine tells a refusal of its own."""
    with suppress(AttributeError, OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(_PRIORITY))
        return True
    return False
