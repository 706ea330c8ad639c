"""One way out to MIDI: a port of our own, or one that is there, found by part of its name."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bridge.base.errors import ClosedError, OutputError
from bridge.send.midi_system import CLIENT_NAME, let_settle, named_port, virtual_port


class MidiPort:
    """One way out to MIDI: ``auto``, ``virtual`` or part of a port's name.

    ``auto`` is our own virtual port where the machine has a MIDI system, otherwise one ``notice`` and silence;
    ``virtual`` and a name raise OutputError when they cannot be had.
    """

    def __init__(self, wanted: str, notice: Callable[[str], None], *, name: str = CLIENT_NAME) -> None:
        self._wanted = wanted
        self._notice = notice
        self._name = name
        self._out: Any = None
        self._is_open = False

    def open(self) -> None:
        """Open the port; raises OutputError that lists the ports there are when the name fits none or several."""
        if self._is_open:
            return
        if self._wanted in ("auto", "virtual"):
            self._open_virtual()
        else:
            self._out, _ = named_port(self._wanted, self._name, "out")
            let_settle(self._out)
        self._is_open = True

    def send(self, data: bytes) -> None:
        """Send one message; without a MIDI system nothing happens. Raises ClosedError when not open."""
        if not self._is_open:
            raise ClosedError("This MIDI port is closed: open it before sending.")
        if self._out is not None:
            self._out.send_message(data)

    def close(self) -> None:
        """Let the last messages out, close the port and leave the MIDI system."""
        self._is_open = False
        if self._out is not None:
            out, self._out = self._out, None
            let_settle(out)
            out.close_port()
            out.delete()

    def _open_virtual(self) -> None:
        self._out = virtual_port(self._name, "out")
        if self._out is not None:
            return
        advice = "No MIDI system that offers virtual ports was found on this machine (ALSA, CoreMIDI or JACK)."
        if self._wanted == "virtual":
            raise OutputError(f"{advice} Start one, or choose another port or none.")
        self._notice(f"{advice} Going on without MIDI.")
