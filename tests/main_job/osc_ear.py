"""Takes OSC on the loopback, read by the tests themselves and not by the library that sends it."""

from __future__ import annotations

import socket
import threading
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from send.osc_reader import read


@dataclass(frozen=True)
class Message:
    """One message: address, type tags without the comma, arguments; the first is stream time in milliseconds."""

    address: str
    types: str
    arguments: tuple[int | float | str, ...]

    @property
    def time_s(self) -> float:
        """Stream time."""
        return float(self.arguments[0]) / 1000.0


class OscEar:
    """Takes every datagram that comes to a port of the loopback inside the ``with``."""

    def __init__(self) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        # Room for more than comes, should this process not get to run for a while.
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
        self._socket.bind(("127.0.0.1", 0))
        self._socket.settimeout(0.1)
        self.port: int = self._socket.getsockname()[1]
        self._datagrams: list[bytes] = []
        self._ends = threading.Event()
        self._thread = threading.Thread(target=self._take, daemon=True)

    @property
    def messages(self) -> list[Message]:
        """All that have come so far, in order."""
        return [_message(data) for data in self._datagrams[:]]

    @property
    def time_s(self) -> float:
        """Stream time of the latest message; -1 before the first."""
        latest = self._datagrams[-1:]
        return _message(latest[0]).time_s if latest else -1.0

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ends.set()
        self._thread.join()
        self._socket.close()

    def _take(self) -> None:
        while not self._ends.is_set():
            try:
                self._datagrams.append(self._socket.recv(65536))
            except TimeoutError:
                continue


def _message(data: bytes) -> Message:
    address, types, arguments = read(data)
    return Message(address, types, tuple(arguments))
