"""Single keys from the terminal, without waiting for Enter, and the terminal put back afterwards.

Source of the codes: ECMA-48 (control sequences) and the keys of xterm and the Linux console, from memory.
"""

from __future__ import annotations

import os
import re
import select
import termios
import time
import tty
from contextlib import suppress
from types import TracebackType
from typing import Any, Self

from bridge.base.commands import Arm, Begin, ChangeHarp, Command, Stop, Tap

#: What each key asks for. Ctrl-C comes as a signal and not as a key, Ctrl-backslash (1C) as a key and not as a signal.
KEYS: dict[bytes, Command] = {
    b" ": Arm(),
    b"q": Stop(),
    b"Q": Stop(),
    b"\x1c": Stop(),
    b"t": Tap(),
    **dict.fromkeys((b"\r", b"\n"), Begin()),
}

#: The same in a set of harps: the places of the first nine, and the neighbours in it.
HARP_KEYS: dict[bytes, Command] = {
    **{str(place).encode(): ChangeHarp(str(place)) for place in range(1, 10)},
    b"n": ChangeHarp("next"),
    b"p": ChangeHarp("previous"),
}

#: What terminals send for the keys that have a name.
CODES: dict[str, tuple[bytes, ...]] = {
    "enter": (b"\r", b"\n"),
    "tab": (b"\t",),
    "backspace": (b"\x7f", b"\x08"),
    "insert": (b"\x1b[2~",),
    "delete": (b"\x1b[3~",),
    "home": (b"\x1b[H", b"\x1bOH", b"\x1b[1~", b"\x1b[7~"),
    "end": (b"\x1b[F", b"\x1bOF", b"\x1b[4~", b"\x1b[8~"),
    "page-up": (b"\x1b[5~",),
    "page-down": (b"\x1b[6~",),
    "up": (b"\x1b[A", b"\x1bOA"),
    "down": (b"\x1b[B", b"\x1bOB"),
    "right": (b"\x1b[C", b"\x1bOC"),
    "left": (b"\x1b[D", b"\x1bOD"),
    **{
        f"f{number}": (b"\x1bO" + letter, b"\x1b[" + letter, b"\x1b[[" + console, b"\x1b[%d~" % (10 + number))
        for number, letter, console in zip(range(1, 5), (b"P", b"Q", b"R", b"S"), (b"A", b"B", b"C", b"D"), strict=True)
    },
    "f5": (b"\x1b[15~", b"\x1b[[E"),
    **{
        f"f{number}": (b"\x1b[%d~" % code,)
        for number, code in zip(range(6, 13), (17, 18, 19, 20, 21, 23, 24), strict=True)
    },
}

#: One key: a control sequence as a whole, so that no letter inside it counts, a letter of several bytes, or one byte.
_ONE_KEY = re.compile(rb"\x1b\[\[.|\x1b\[[0-?]*[ -/]*[@-~]|\x1bO.|[\xc0-\xff][\x80-\xbf]+|.", re.DOTALL)


class Keys:
    """The keys of the terminal at ``path`` (None: there are none), while the ``with`` block lasts.

    ``arm_key`` is one more key, a letter or a name of ``CODES``, that asks for what the space bar does. The keys for
    harps have a meaning where there are several ``harps``. With ``early`` what was typed before counts, as a q does
    while a performance begins; else it is forgotten.
    """

    def __init__(self, path: str | None, arm_key: str | None = None, harps: int = 1, *, early: bool = False) -> None:
        self._path = path
        self._when = termios.TCSANOW if early else termios.TCSAFLUSH
        self._handle = -1
        self._hung_up = False
        self._modes: list[Any] = []
        more = () if arm_key is None else CODES.get(arm_key, (arm_key.encode(),))
        self._meanings = {**KEYS, **(HARP_KEYS if harps > 1 else {}), **dict.fromkeys(more, Arm())}

    def __enter__(self) -> Self:
        if self._path is None:
            return self
        handle = -1
        try:
            handle = os.open(self._path, os.O_RDONLY | os.O_NOCTTY)
            self._modes = termios.tcgetattr(handle)
            tty.setcbreak(handle, self._when)
            _without_harm(handle)
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

    def wait(self, seconds: float) -> None:
        """Let so many seconds pass, or fewer if a key is pressed: one that is tapped in time must not wait."""
        if self._handle < 0 or self._hung_up:
            time.sleep(seconds)
        else:
            select.select([self._handle], [], [], seconds)

    def commands(self) -> list[Command]:
        """What the keys pressed since the last call ask for; never waits. Keys without a meaning are left out."""
        if self._handle < 0 or not select.select([self._handle], [], [], 0.0)[0]:
            return []
        try:
            pressed = os.read(self._handle, 64)
        except OSError:
            pressed = b""
        self._hung_up = not pressed
        return [self._meanings[key] for key in _ONE_KEY.findall(pressed) if key in self._meanings]


def _without_harm(handle: int) -> None:
    """Take their meaning from Ctrl-Z and Ctrl-backslash: a performance paused or killed in a note leaves it sounding.

    Both then come as keys.
    """
    modes = termios.tcgetattr(handle)
    for sign in (termios.VSUSP, termios.VQUIT):
        modes[6][sign] = bytes([os.fpathconf(handle, "PC_VDISABLE")])
    termios.tcsetattr(handle, termios.TCSANOW, modes)
