"""What holds a sound card in tests: functions that a spawned process imports in place of the real one."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from ctypes import c_int

import numpy as np

from bridge.base.handoff import HandOff
from bridge.capture.devices import SoundDevice
from bridge.capture.ring import RingWriter
from bridge.wiring.card_process import CardSetup, HoldCard, Opened, Refused, tell

BLOCK = 480
_DEVICE = SoundDevice(3, "Test card", "Test", 1, 0, 48000.0, is_default_input=True)


def _open(ring: RingWriter, words: HandOff, rate: int = 48000) -> None:
    tell(words, ring, Opened(_DEVICE, rate, 0.01, raised=False))


def _call(ring: RingWriter, samples: np.ndarray) -> None:
    ring.write(samples.astype(np.float32), time.monotonic())


def counts_up(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """Ten blocks whose samples are their own places, then nothing until the engine is gone."""
    _open(ring, words)
    for number in range(10):
        _call(ring, np.arange(number * BLOCK, (number + 1) * BLOCK))
    ring.wait_for_end()


def is_muted(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """Blocks of exact zeros as long as the engine is there, then one that sounds."""
    _open(ring, words)
    for _ in range(40):
        _call(ring, np.zeros(BLOCK))
    _call(ring, np.ones(BLOCK))
    ring.wait_for_end()


def gives_nonsense(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """A block of ones in which one value is no number and one is infinite."""
    _open(ring, words)
    samples = np.ones(BLOCK)
    samples[3], samples[5] = np.nan, np.inf
    _call(ring, samples)
    ring.wait_for_end()


def refuses(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """No card at all."""
    tell(words, ring, Refused("No such card. Connect one."))


def says_nothing(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """A sound system that hangs in being asked."""
    ring.wait_for_end()


def dies(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """One block, and the process is gone; each that takes over is the same."""
    _open(ring, words)
    _call(ring, np.ones(BLOCK))
    time.sleep(0.2)
    os._exit(1)


def stops_calling(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """One block, then a driver that hangs, deaf to the end of the engine's side."""
    _open(ring, words)
    _call(ring, np.ones(BLOCK))
    time.sleep(3600.0)


def opens_and_is_mute(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """A card that is opened and never calls."""
    _open(ring, words)
    ring.wait_for_end()


def opens_at_44100(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """A card that was set to another rate meanwhile."""
    _open(ring, words, 44100)
    ring.wait_for_end()


def refuses_otherwise(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """A card that somebody else took."""
    tell(words, ring, Refused("The card is busy. Close other programs."))


def gives_long_blocks(setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """Three blocks of the length that is set, and it ends."""
    _open(ring, words)
    for _ in range(3):
        _call(ring, np.ones(setup.settings.block))
    time.sleep(0.2)


def in_turn(turn: c_int, holds: Sequence[HoldCard], setup: CardSetup, ring: RingWriter, words: HandOff) -> None:
    """Each process does what is next among ``holds``, and the last one for ever; ``turn`` counts the processes."""
    number = turn.value
    turn.value = number + 1
    holds[min(number, len(holds) - 1)](setup, ring, words)
