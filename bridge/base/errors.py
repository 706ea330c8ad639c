"""The errors a user can mend, each with a message that says what to do."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

#: Exit status of a fault of the program itself (EX_SOFTWARE of BSD's sysexits.h).
OWN_FAULT = 70


class UserError(Exception):
    """Something the user gave cannot be used; the message says what, where and what to try.

    The command line prints the message alone, without a traceback, and ends with ``exit_status``.
    """

    exit_status = 2


class SettingError(UserError):
    """A setting is wrong: says file, line, key, what was found and what is allowed."""

    def __init__(self, *, where: str, key: str, found: object, allowed: str) -> None:
        self.where = where
        self.key = key
        self.found = found
        self.allowed = allowed
        super().__init__(f"{where}: {key}: found {found!r}, allowed: {allowed}")


class ManyFaultsError(UserError):
    """More than one thing is wrong: ``errors`` in the order to tell them; the command line prints each on its line."""

    def __init__(self, errors: Sequence[UserError]) -> None:
        self.errors = tuple(errors)
        super().__init__("\n".join(map(str, self.errors)))


class SoundError(UserError):
    """A sound file or device cannot be read; the rest of a batch goes on."""

    def __init__(self, source: Path | str, problem: str, advice: str) -> None:
        self.source = source
        super().__init__(f"{source}: {problem}. {advice}.")


class OutputError(UserError):
    """An output (MIDI port, OSC socket, file) cannot be opened."""


class ClosedError(RuntimeError):
    """A closed output or source was used: a fault of the program, not of the user."""
