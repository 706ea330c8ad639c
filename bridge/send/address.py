"""Network addresses as a user writes them: ``127.0.0.1:9000``, ``localhost:9000``, ``[::1]:9000``."""

from __future__ import annotations

import socket
from typing import NamedTuple

HIGHEST_PORT = 65535


class Address(NamedTuple):
    """A host (name or number) and a UDP port, 1..65535."""

    host: str
    port: int


def parse_address(text: str) -> Address:
    """Host and port of ``HOST:PORT``; a host with colons stands in brackets.

    Raises ValueError that says what is allowed.
    """
    host, colon, port = text.strip().rpartition(":")
    host = host[1:-1] if host.startswith("[") and host.endswith("]") else host.replace(":", " ")
    number = int(port) if port.isascii() and port.isdigit() else 0
    if not colon or not host or " " in host or not 1 <= number <= HIGHEST_PORT:
        allowed = f"HOST:PORT, such as 127.0.0.1:9000, with a port from 1 to {HIGHEST_PORT}"
        raise ValueError(f"There is no address {text!r}. Addresses: {allowed}")
    return Address(host, number)


def udp_socket(address: Address) -> tuple[socket.socket, tuple[str, int]]:
    """A non-blocking UDP socket of the address's family and the resolved address to send to or bind.

    Looks the name up once. Raises OSError when the host is unknown or the machine has no such network.
    """
    family, kind, protocol, _, where = socket.getaddrinfo(*address, type=socket.SOCK_DGRAM)[0]
    made = socket.socket(family, kind, protocol)
    made.settimeout(0.0)
    return made, (str(where[0]), int(where[1]))
