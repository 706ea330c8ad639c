"""A pedal that takes another harp by MIDI: from messages to commands.

Source: MIDI 1.0 Detailed Specification 4.2.1 (Program Change is Cn with one data byte, counted from 0).
"""

from __future__ import annotations

from bridge.base.commands import ChangeHarp, Command
from bridge.send.footswitch import Switch
from bridge.send.settings import HarpPedalSettings

_PROGRAM = 0xC0


class HarpPedal:
    """Which harp the messages of one pedal ask for."""

    def __init__(self, settings: HarpPedalSettings) -> None:
        self._first = settings.first_program
        self._channel = settings.channel
        self._switch: Switch | None = None
        if settings.sends != "program":
            self._switch = Switch(settings.sends, settings.number, settings.channel)

    def begin(self) -> list[Command]:
        """Before the first message the harp stays as it is."""
        return []

    def hear(self, data: bytes) -> Command | None:
        """What one message asks for; None when it is another's, or a program before the first harp's."""
        if self._switch is not None:
            return ChangeHarp("next") if self._switch.hear(data) and self._switch.pressed else None
        if len(data) != 2 or data[0] & 0xF0 != _PROGRAM or self._channel not in (None, (data[0] & 0x0F) + 1):
            return None
        place = data[1] - self._first + 1
        return ChangeHarp(str(place)) if place >= 1 else None
