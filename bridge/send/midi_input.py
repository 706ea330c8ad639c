"""Commands that come in by MIDI: one port, and those who know what its messages ask for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

from bridge.base.commands import Command


class MessageSource(Protocol):
    """Gives MIDI messages, each the bytes of one."""

    def open(self) -> None:
        """Take hold of the port; raises UserError when it cannot be had."""
        ...

    def read(self) -> list[bytes]:
        """What has come since the last call, oldest first, without waiting."""
        ...

    def close(self) -> None:
        """Let go; closing again does nothing."""
        ...


class Pedal(Protocol):
    """Knows what messages ask for."""

    def begin(self) -> list[Command]:
        """What is to be done before the first message."""
        ...

    def hear(self, data: bytes) -> Command | None:
        """What one message asks for; None when it is another's, or changes nothing."""
        ...


class MidiInput:
    """The commands of all pedals on one MIDI port, polled between blocks; each opening makes the pedals anew."""

    def __init__(self, make_pedals: Sequence[Callable[[], Pedal]], port: MessageSource) -> None:
        self._make_pedals = tuple(make_pedals)
        self._port = port
        self._pedals: list[Pedal] = []
        self._due: list[Command] = []

    def open(self) -> None:
        """Open the port; raises UserError when it cannot be had."""
        self._pedals = [make() for make in self._make_pedals]
        self._due = [command for pedal in self._pedals for command in pedal.begin()]
        self._port.open()

    def poll(self) -> list[Command]:
        """The commands that have come in since the last poll, oldest first."""
        commands, self._due = self._due, []
        for data in self._port.read():
            asked = [pedal.hear(data) for pedal in self._pedals]
            commands += [command for command in asked if command is not None]
        return commands

    def close(self) -> None:
        """Let go of the port; closing again does nothing."""
        self._port.close()
