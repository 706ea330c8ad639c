"""The OSC output: UDP datagrams of contract version 1."""

from __future__ import annotations

import socket
from collections.abc import Sequence

from bridge.base.errors import ClosedError, OutputError
from bridge.base.events import Event
from bridge.send.address import parse_address, udp_socket
from bridge.send.catalogue import catalogue
from bridge.send.osc_encoder import OscEncoder
from bridge.send.osc_messages import OscMessage
from bridge.send.pitch import SentPitch
from bridge.send.settings import OscSettings

#: While the network fails and no event comes, it is tried again so often, in seconds.
RETRY_S = 0.5
_OFF = catalogue().osc_out["off"].address


class OscOutput:
    """Events as OSC to one host and port.

    A network error comes out as OutputError and ends the note that sounds. With each event it is tried again, first
    with the offs that are owed and a hello. So it is too after an event that cannot be encoded.
    """

    name = "OSC"

    def __init__(self, settings: OscSettings, pitch: SentPitch, program_version: str) -> None:
        self._settings = settings
        self._pitch = pitch
        self._version = program_version
        self._encoder = self._new_encoder()
        self._socket: socket.socket | None = None
        self._where = ("", 0)
        self._owed: list[OscMessage] = []
        self._failed = False
        self._retry_s = 0.0

    def open(self) -> None:
        """Look the host up once and say hello; raises OutputError when the host cannot be reached."""
        if self._socket is not None:
            return
        self._encoder = self._new_encoder()
        self._owed, self._failed = [], False
        try:
            self._socket, self._where = udp_socket(parse_address(self._settings.to))
            for message in self._encoder.opening():
                self._socket.sendto(message.data, self._where)
        except OSError as error:
            self._drop()
            problem = f"OSC cannot be sent to {self._settings.to} ({error})"
            raise OutputError(f"{problem}. Check the host and the network, or give none.") from error

    def send(self, event: Event) -> None:
        """Send what an event says; raises OutputError when the network refuses it, else what encoding it raises."""
        self._check_open()
        self._make_sure()
        try:
            messages = self._encoder.encode(event)
        except Exception:
            self._lose([])
            raise
        self._put(messages)

    def attend(self, now_s: float) -> None:
        """Between events: try a network that failed again. ``now_s`` is monotonic. Raises OutputError if in vain."""
        self._check_open()
        if self._failed and now_s >= self._retry_s:
            self._retry_s = now_s + RETRY_S
            self._make_sure()

    def panic(self) -> None:
        """End the note that is known to sound."""
        self._check_open()
        self._make_sure()
        self._put(self._encoder.release())

    def close(self) -> None:
        """End the sounding note and close the socket."""
        if self._socket is None:
            return
        try:
            self._put(self._owed + self._encoder.release())
        finally:
            self._drop()

    def _make_sure(self) -> None:
        """After an error, begin anew: who listens may have been away, and hears who speaks."""
        if self._failed:
            self._put(self._owed + self._encoder.opening())
            self._owed, self._failed = [], False

    def _put(self, messages: Sequence[OscMessage]) -> None:
        if self._socket is None:
            return
        for index, message in enumerate(messages):
            try:
                self._socket.sendto(message.data, self._where)
            except Exception as error:
                self._lose(messages[index:])
                if not isinstance(error, OSError):
                    raise
                problem = f"nothing can be sent to {self._settings.to} ({error.strerror or error})"
                raise OutputError(f"{problem}. Playing goes on, and it is tried again.") from error

    def _lose(self, late: Sequence[OscMessage]) -> None:
        """What of ``late`` ends a note is owed, and so is the end of the note that sounds."""
        ends = [message for message in late if message.address == _OFF]
        self._failed = True
        self._owed = [*ends, *self._encoder.release()]

    def _drop(self) -> None:
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _new_encoder(self) -> OscEncoder:
        return OscEncoder(self._settings.interval_ms / 1000.0, self._pitch, self._version)

    def _check_open(self) -> None:
        if self._socket is None:
            raise ClosedError("This OSC output is closed: open it before sending.")
