"""Single keys from the terminal, without waiting for Enter, and the terminal put back afterwards."""

from __future__ import annotations

import os
import select
import termios
import tty
from contextlib import suppress
from types import TracebackType
from typing import Any, Self

from bridge.base.commands import Arm, Command, Stop

#: What each key asks for; Ctrl-C comes as a signal, not as a key.
KEYS: dict[bytes, Command] = {b" ": Arm(), b"q": Stop(), b"Q": Stop()}


class Keys:
    """The keys of the terminal at ``path`` (None: there are none), while the ``with`` block lasts."""

    def __init__(self, path: str | None) -> None:
        self._path = path
        self._handle = -1
        self._modes: list[Any] = []

    def __enter__(self) -> Self:
        if self._path is None:
            return self
        handle = -1
        try:
            handle = os.open(self._path, os.O_RDONLY | os.O_NOCTTY)
            self._modes = termios.tcgetattr(handle)
            tty.setcbreak(handle)
            _without_pause(handle)
        except (OSError, termios.error):
            # A terminal that went away: the meter is shown all the same, only keys do nothing.
            if handle >= 0:
                os.close(handle)
            return self
        self._handle = handle
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._handle < 0:
            return
        with suppress(OSError, termios.error):
            termios.tcsetattr(self._handle, termios.TCSADRAIN, self._modes)
        os.close(self._handle)
        self._handle = -1

    def commands(self) -> list[Command]:
        """What the keys pressed since the last call ask for; never waits. Keys without a meaning are left out."""
        if self._handle < 0 or not select.select([self._handle], [], [], 0.0)[0]:
            return []
        try:
            pressed = os.read(self._handle, 64)
        except OSError:
            return []
        return [KEYS[key] for key in (bytes([code]) for code in pressed) if key in KEYS]


def _without_pause(handle: int) -> None:
    """Take its meaning from Ctrl-Z: a performance that is paused in a note would leave it sounding."""
    modes = termios.tcgetattr(handle)
    modes[6][termios.VSUSP] = bytes([os.fpathconf(handle, "PC_VDISABLE")])
    termios.tcsetattr(handle, termios.TCSANOW, modes)
