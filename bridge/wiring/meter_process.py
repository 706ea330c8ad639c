"""The process that draws the meter: started, fed, asked for key presses, and ended with the terminal as it was.

The drawing itself is handed in, so that this file knows nothing of terminals' looks. It runs in a process of its own,
because drawing in the engine's process holds up the sound.
"""

from __future__ import annotations

import os
import sys
import termios
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Any

from bridge.base.commands import Command
from bridge.base.errors import OWN_FAULT
from bridge.base.handoff import HandOff
from bridge.base.records import RECORD_BYTES, Saying, decode_command, encode
from bridge.harp.harp import Harp
from bridge.harp.tab import Convention
from bridge.wiring.steady import signals_held

#: Room for about five seconds of the densest stream, so that a slow terminal loses nothing that matters.
_FEED_RECORDS = 8192
_KEY_RECORDS = 64
#: Leave the alternate screen, show the cursor, plain letters (ECMA-48 and the private modes every terminal shares).
_PLAIN_SCREEN = "\x1b[?1049l\x1b[?25h\x1b[0m"


@dataclass(frozen=True)
class MeterSetup:
    """What the meter must know beforehand: plain values in cents above the root, and the terminal.

    ``title`` says what is running, ``terminal`` is the path of the terminal that keys come from (None: no keys),
    ``parent`` the process to end with, ``cautions`` what the player should mind,
    ``arm_key`` the key that starts and stops listening besides the space bar, ``harps`` those of the set in order,
    by which holes are told (none: they are not), and ``tab`` how these are written. ``goes_to`` says where notes go;
    empty: nowhere, None: unknown. ``taps``: a take is kept, whose tempo can be tapped.
    """

    title: str
    a4_hz: float
    straight: float
    minor: float
    target: float
    zone_low: float
    zone_high: float
    terminal: str | None
    parent: int
    cautions: tuple[str, ...] = ()
    arm_key: str | None = None
    harps: tuple[Harp, ...] = ()
    tab: Convention = "signs"
    goes_to: str | None = None
    taps: bool = False


Draw = Callable[[HandOff, HandOff, MeterSetup], None]


class MeterProcess:
    """A process that runs ``draw(feed, keys, setup)``; ``draw`` must be a function of an importable module.

    It begins with the signals of ``steady.STOP_SIGNALS`` blocked and unblocks them once it can deal with them.

    Call ``start`` first, ``close`` last; both may be called again without harm. ``show``, ``say`` and
    ``poll_commands`` never wait and are for one thread.
    """

    def __init__(self, draw: Draw, setup: MeterSetup) -> None:
        self._feed = HandOff(RECORD_BYTES, _FEED_RECORDS)
        self._keys = HandOff(RECORD_BYTES, _KEY_RECORDS)
        self._process = get_context("spawn").Process(
            target=draw, args=(self._feed, self._keys, setup), name="reedwire-meter", daemon=True
        )
        self._modes: list[Any] | None = None

    def start(self) -> None:
        """Start the process; it draws as soon as it is up, which takes some tenths of a second."""
        if self._process.pid is not None:
            return
        self._modes = _terminal_modes()
        with signals_held():
            self._process.start()

    def came(self, at_s: float) -> None:
        """When sound came in does not matter here."""

    def show(self, record: bytes) -> bool:
        """Show an encoded record; False when the meter was too slow and it is lost to the display."""
        return self._feed.push(record)

    def say(self, text: str) -> bool:
        """Show one line of text, at most 200 bytes, until the next one."""
        return self._feed.push(encode(Saying(text)))

    def poll_commands(self) -> list[Command]:
        """What was asked for by keys since the last call."""
        return [decode_command(data) for data in self._keys.drain()]

    def close(self, patience_s: float = 3.0) -> None:
        """Let it show what is left, end it, and see to it that the terminal is as it was."""
        if self._process.pid is None:
            return
        self._feed.end()
        self._process.join(patience_s)
        for end in (self._process.terminate, self._process.kill):
            if self._process.is_alive():
                end()
                self._process.join(patience_s)
        # One with a fault has put it back itself, and the screen now shows what was said of it.
        if self._process.exitcode not in (0, OWN_FAULT):
            self._restore()

    def _restore(self) -> None:
        """Put the terminal back after a meter that could not do it itself."""
        if self._modes is not None:
            with suppress(termios.error, OSError):
                termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._modes)
            if sys.stdout.isatty():
                sys.stdout.write(_PLAIN_SCREEN)
                sys.stdout.flush()


def key_terminal() -> str | None:
    """Path of the terminal on standard input when this process may read keys from it; None otherwise."""
    try:
        stdin = sys.stdin.fileno()
        if os.isatty(stdin) and os.tcgetpgrp(stdin) == os.getpgrp():
            return os.ttyname(stdin)
    except (AttributeError, OSError, ValueError):
        # No standard input at all, or one that is no file, as in a test.
        return None
    return None


def _terminal_modes() -> list[Any] | None:
    """How the terminal is set now, to be put back after an accident."""
    if key_terminal() is None:
        return None
    with suppress(termios.error):
        return termios.tcgetattr(sys.stdin.fileno())
    return None
