"""What shows a live performance and takes commands back: the meter, the board, or both."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from bridge.base.commands import Command
from bridge.base.events import Event, Status
from bridge.base.records import ClicksBack, encode


class Display(Protocol):
    """One of them. Nothing here ever waits, and all of it is for one thread."""

    def came(self, at_s: float) -> None:
        """The sound that is followed next came in at ``at_s``, monotonic seconds."""
        ...

    def show(self, record: bytes) -> bool:
        """Show an encoded record; False when the display was too slow and it is lost to it."""
        ...

    def poll_commands(self) -> list[Command]:
        """What was asked for since the last call."""
        ...


class Displays:
    """Several displays as one: each record is encoded once, and goes to all of them."""

    def __init__(self, displays: Sequence[Display]) -> None:
        self._displays = tuple(displays)

    def came(self, at_s: float) -> None:
        """The sound that is followed next came in at ``at_s``, monotonic seconds."""
        for display in self._displays:
            display.came(at_s)

    def push(self, record: Event | Status | ClicksBack) -> None:
        """Show ``record``; a display that is too slow counts what it loses."""
        data = encode(record)
        for display in self._displays:
            display.show(data)

    def poll_commands(self) -> list[Command]:
        """What was asked for since the last call, at one display after the other."""
        return [command for display in self._displays for command in display.poll_commands()]
