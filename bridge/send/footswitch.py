"""A footswitch that arms and disarms by MIDI: from messages to commands.

Source: MIDI 1.0 Detailed Specification 4.2.1 (a switch's controller is off at 0..63 and on at 64..127; a Note On with
velocity 0 is a Note Off).
"""

from __future__ import annotations

from typing import Protocol

from bridge.base.commands import Arm, Command
from bridge.send.settings import ArmSettings

_NOTE_OFF, _NOTE_ON, _CONTROLLER = 0x80, 0x90, 0xB0
_ON, _MOST = 64, 127


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


class Footswitch:
    """What the presses of one switch ask for."""

    def __init__(self, settings: ArmSettings) -> None:
        self._settings = settings
        self._last = 0

    def begin(self) -> list[Command]:
        """Before the first message: a switch that must be held counts as let go."""
        return [Arm(armed=False)] if self._settings.acts == "hold" else []

    def hear(self, data: bytes) -> Arm | None:
        """What one message asks for; None when it is another's, or changes nothing."""
        value = self._value(data)
        if value is None:
            return None
        last, self._last = self._last, value
        if self._settings.acts == "hold":
            return Arm(value >= _ON) if (value >= _ON) != (last >= _ON) else None
        # Some switches send only their presses: the same full value again is another one. A pedal on its way down
        # passes each value once.
        return Arm() if value >= _ON and (last < _ON or value == last == _MOST) else None

    def _value(self, data: bytes) -> int | None:
        """0..127 of our switch; a note that is on counts as 127, one that is off as 0."""
        if len(data) != 3 or data[1] != self._settings.number:
            return None
        kind, channel = data[0] & 0xF0, (data[0] & 0x0F) + 1
        if self._settings.channel not in (None, channel):
            return None
        if self._settings.sends == "controller":
            return data[2] if kind == _CONTROLLER else None
        if kind == _NOTE_ON:
            return _MOST if data[2] else 0
        return 0 if kind == _NOTE_OFF else None


class FootswitchInput:
    """The commands of a footswitch on a MIDI port, polled between blocks."""

    def __init__(self, settings: ArmSettings, port: MessageSource) -> None:
        self._settings = settings
        self._port = port
        self._switch = Footswitch(settings)
        self._due: list[Command] = []

    def open(self) -> None:
        """Open the port; raises UserError when it cannot be had."""
        self._switch = Footswitch(self._settings)
        self._due = self._switch.begin()
        self._port.open()

    def poll(self) -> list[Command]:
        """The commands that have come in since the last poll, oldest first."""
        commands, self._due = self._due, []
        return commands + [command for data in self._port.read() if (command := self._switch.hear(data)) is not None]

    def close(self) -> None:
        """Let go of the port; closing again does nothing."""
        self._port.close()
