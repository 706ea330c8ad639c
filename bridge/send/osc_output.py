"""The OSC output: UDP datagrams of contract version 1."""

from __future__ import annotations

import socket
from collections.abc import Iterable

from bridge.base.errors import ClosedError, OutputError
from bridge.base.events import Event
from bridge.send.address import parse_address, udp_socket
from bridge.send.osc_encoder import OscEncoder
from bridge.send.osc_messages import OscMessage
from bridge.send.pitch import SentPitch
from bridge.send.settings import OscSettings


class OscOutput:
    """Events as OSC to one host and port; a network error comes out as OSError, the next event is tried again."""

    name = "OSC"

    def __init__(self, settings: OscSettings, pitch: SentPitch, program_version: str) -> None:
        self._settings = settings
        self._pitch = pitch
        self._version = program_version
        self._encoder = self._new_encoder()
        self._socket: socket.socket | None = None
        self._where = ("", 0)

    def open(self) -> None:
        """Look the host up once and say hello; raises OutputError when the host cannot be reached."""
        if self._socket is not None:
            return
        self._encoder = self._new_encoder()
        try:
            self._socket, self._where = udp_socket(parse_address(self._settings.to))
            self._put(self._encoder.opening())
        except OSError as error:
            self._drop()
            problem = f"OSC cannot be sent to {self._settings.to} ({error})"
            raise OutputError(f"{problem}. Check the host and the network, or give none.") from error

    def send(self, event: Event) -> None:
        """Send what an event says."""
        self._check_open()
        self._put(self._encoder.encode(event))

    def panic(self) -> None:
        """End the note that is known to sound."""
        self._check_open()
        self._put(self._encoder.release())

    def close(self) -> None:
        """End the sounding note and close the socket."""
        if self._socket is None:
            return
        try:
            self._put(self._encoder.release())
        finally:
            self._drop()

    def _put(self, messages: Iterable[OscMessage]) -> None:
        for message in messages:
            if self._socket is not None:
                self._socket.sendto(message.data, self._where)

    def _drop(self) -> None:
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _new_encoder(self) -> OscEncoder:
        return OscEncoder(self._settings.interval_ms / 1000.0, self._pitch, self._version)

    def _check_open(self) -> None:
        if self._socket is None:
            raise ClosedError("This OSC output is closed: open it before sending.")
