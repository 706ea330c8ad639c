"""A footswitch that arms and disarms by MIDI: from messages to commands.

Source: MIDI 1.0 Detailed Specification 4.2.1 (a switch's controller is off at 0..63 and on at 64..127; a Note On with
velocity 0 is a Note Off).
"""

from __future__ import annotations

from typing import Literal

from bridge.base.commands import Arm, Command
from bridge.send.settings import ArmSettings

_NOTE_OFF, _NOTE_ON, _CONTROLLER = 0x80, 0x90, 0xB0
_ON, _MOST = 64, 127


class Switch:
    """One switch that sends a controller or a note of this number, on ``channel`` 1..16 or on any (None)."""

    def __init__(self, sends: Literal["controller", "note"], number: int, channel: int | None) -> None:
        self._sends = sends
        self._number = number
        self._channel = channel
        self._last = 0
        self._before = 0

    def hear(self, data: bytes) -> bool:
        """Whether one message is about this switch; what it says is then in ``on``, ``changed`` and ``pressed``."""
        value = self._value(data)
        if value is None:
            return False
        self._before, self._last = self._last, value
        return True

    @property
    def on(self) -> bool:
        """Whether it is on now."""
        return self._last >= _ON

    @property
    def changed(self) -> bool:
        """Whether its last message turned it on or off."""
        return self.on != (self._before >= _ON)

    @property
    def pressed(self) -> bool:
        """Whether its last message was a press.

        Some switches send only their presses: the same full value again is another one. A pedal on its way down
        passes each value once.
        """
        return self.on and (self.changed or self._last == self._before == _MOST)

    def _value(self, data: bytes) -> int | None:
        """0..127 of our switch; a note that is on counts as 127, one that is off as 0."""
        if len(data) != 3 or data[1] != self._number:
            return None
        kind, channel = data[0] & 0xF0, (data[0] & 0x0F) + 1
        if self._channel not in (None, channel):
            return None
        if self._sends == "controller":
            return data[2] if kind == _CONTROLLER else None
        if kind == _NOTE_ON:
            return _MOST if data[2] else 0
        return 0 if kind == _NOTE_OFF else None


class Footswitch:
    """What the presses of the switch that arms ask for."""

    def __init__(self, settings: ArmSettings) -> None:
        self._holds = settings.acts == "hold"
        self._switch = Switch(settings.sends, settings.number, settings.channel)

    def begin(self) -> list[Command]:
        """Before the first message: a switch that must be held counts as let go."""
        return [Arm(armed=False)] if self._holds else []

    def hear(self, data: bytes) -> Command | None:
        """What one message asks for; None when it is another's, or changes nothing."""
        if not self._switch.hear(data):
            return None
        if self._holds:
            return Arm(self._switch.on) if self._switch.changed else None
        return Arm() if self._switch.pressed else None
