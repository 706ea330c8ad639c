"""What every way in for commands promises."""

from __future__ import annotations

from typing import Protocol

from bridge.base.commands import Command


class CommandInput(Protocol):
    """Where commands come in besides the keyboard."""

    def open(self) -> None:
        """Begin to listen."""
        ...

    def poll(self) -> list[Command]:
        """What has come in, without waiting."""
        ...

    def close(self) -> None:
        """Stop listening."""
        ...
