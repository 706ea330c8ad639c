"""One way in from MIDI, which may be unplugged and plugged in again while the music goes on."""

from __future__ import annotations

from collections.abc import Callable

from bridge.base.clock import WallClock
from bridge.base.errors import ClosedError, OutputError
from bridge.send.coming_port import Background, in_background
from bridge.send.kept_port import KeptPort, PortNews
from bridge.send.port_watch import Watch

CLIENT_NAME = "reedwire-in"
#: Messages taken at once: a flood must not hold up the sound.
MOST_AT_ONCE = 64


class MidiInPort:
    """A port of our own (``virtual``), or the one that part of its name leads to.

    One that vanishes is told by one ``notice``, taken up again when it comes back, and stops nothing; without a
    ``watch`` nobody notices.
    """

    def __init__(
        self,
        wanted: str,
        notice: Callable[[str], None],
        clock: WallClock,
        *,
        watch: Watch | None = None,
        background: Background = in_background,
    ) -> None:
        self._notice = notice
        self._clock = clock
        self._port = KeptPort(wanted, "in", CLIENT_NAME, watch, background)
        self._is_open = False

    def open(self) -> None:
        """Open the port; raises OutputError that lists the ports there are when the name fits none or several."""
        if self._is_open:
            return
        if not self._port.open():
            raise OutputError(
                "No MIDI system that offers virtual ports was found on this machine (ALSA, CoreMIDI or JACK). "
                "Start one, or choose another port or none for the footswitch."
            )
        self._is_open = True

    def read(self) -> list[bytes]:
        """The messages that have come since the last call, oldest first; never waits. Raises ClosedError if closed."""
        if not self._is_open:
            raise ClosedError("This MIDI port is closed: open it before reading.")
        match self._port.attend(self._clock.now()):
            case PortNews.GONE:
                self._notice(f"The {self._port.label} of the pedal went away. The keys still work.")
            case PortNews.BACK:
                self._notice(f"The {self._port.label} of the pedal is back.")
            case PortNews.UNCLEAR:
                self._notice(self._port.puzzle)
        client = self._port.client
        messages: list[bytes] = []
        while client is not None and len(messages) < MOST_AT_ONCE and (come := client.get_message()) is not None:
            messages.append(bytes(come[0]))
        return messages

    def close(self) -> None:
        """Close the port and leave the MIDI system; closing again does nothing."""
        self._is_open = False
        self._port.close()
