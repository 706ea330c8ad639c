"""One way in from MIDI, which may be unplugged and plugged in again while the music goes on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bridge.base.clock import WallClock
from bridge.base.errors import ClosedError, OutputError
from bridge.send.midi_system import join, matching, named_port, virtual_port

CLIENT_NAME = "reedwire-in"
#: Messages taken at once: a flood must not hold up the sound.
MOST_AT_ONCE = 64
#: A port that vanished tells nobody, so its name is looked for this often, in seconds.
LOOK_S = 1.0


class MidiInPort:
    """A port of our own (``virtual``), or the one that part of its name leads to.

    One that vanishes is told by one ``notice``, taken up again when it comes back, and stops nothing.
    """

    def __init__(self, wanted: str, notice: Callable[[str], None], clock: WallClock) -> None:
        self._wanted = wanted
        self._notice = notice
        self._clock = clock
        self._in: Any = None
        self._joined_to: str | None = None
        self._look_at = 0.0
        self._away = False

    def open(self) -> None:
        """Open the port; raises OutputError that lists the ports there are when the name fits none or several."""
        if self._in is not None:
            return
        if self._wanted == "virtual":
            self._in = virtual_port(CLIENT_NAME, "in")
            if self._in is None:
                raise OutputError(
                    "No MIDI system that offers virtual ports was found on this machine (ALSA, CoreMIDI or JACK). "
                    "Start one, or choose another port or none for the footswitch."
                )
        else:
            self._in, self._joined_to = named_port(self._wanted, CLIENT_NAME, "in")
        self._away = False
        self._look_at = self._clock.now() + LOOK_S

    def read(self) -> list[bytes]:
        """The messages that have come since the last call, oldest first; never waits. Raises ClosedError if closed."""
        if self._in is None:
            raise ClosedError("This MIDI port is closed: open it before reading.")
        messages: list[bytes] = []
        while len(messages) < MOST_AT_ONCE and (come := self._in.get_message()) is not None:
            messages.append(bytes(come[0]))
        if self._joined_to is not None and self._clock.now() >= self._look_at:
            self._look_at = self._clock.now() + LOOK_S
            self._look_after()
        return messages

    def close(self) -> None:
        """Close the port and leave the MIDI system; closing again does nothing."""
        if self._in is not None:
            port, self._in = self._in, None
            self._joined_to = None
            port.close_port()
            port.delete()

    def _look_after(self) -> None:
        """Notice that the port went away, and take it up when it is back."""
        names = self._names()
        if not self._away:
            if self._joined_to not in names:
                self._away = True
                self._notice(f"The MIDI port {self._joined_to!r} of the footswitch went away. The keys still work.")
            return
        back = matching(self._wanted, names)
        if len(back) != 1:
            return
        try:
            self._in.close_port()
            join(self._in, back[0], CLIENT_NAME)
        except (OSError, RuntimeError, ValueError):
            return
        self._joined_to, self._away = back[0], False
        self._notice(f"The MIDI port {back[0]!r} of the footswitch is back.")

    def _names(self) -> list[str]:
        """The ports that are there now; none when the MIDI system itself has gone."""
        try:
            return list(self._in.get_ports())
        except (OSError, RuntimeError):
            return []
