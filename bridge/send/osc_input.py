"""Commands that come in by OSC: ``/reedwire/do/arm i``, ``/reedwire/do/harp s`` or ``i``, ``/reedwire/do/panic``."""

from __future__ import annotations

import math
import socket
from collections.abc import Callable

from pythonosc.osc_message import OscMessage, ParseError

from bridge.base.commands import Arm, ChangeHarp, Command, Panic
from bridge.base.errors import ClosedError, OutputError
from bridge.send.address import Address, parse_address, udp_socket
from bridge.send.settings import OscSettings

#: Where ``auto`` listens: this machine only.
DEFAULT_ADDRESS = Address("127.0.0.1", 9001)
DATAGRAM_BYTES = 4096
#: Datagrams taken between two hops: a flood must not hold up the sound.
MOST_AT_ONCE = 16


class OscInput:
    """Listens on UDP without ever waiting; what is no command is passed over, with one ``notice``."""

    def __init__(self, settings: OscSettings, notice: Callable[[str], None]) -> None:
        self._listen = settings.listen
        self._notice = notice
        self._told = False
        self._socket: socket.socket | None = None
        self._is_open = False

    def open(self) -> None:
        """Bind the socket; an address that was named and is taken raises OutputError, ``auto`` gives a notice."""
        if self._is_open:
            return
        self._is_open = True
        if self._listen == "none":
            return
        address = DEFAULT_ADDRESS if self._listen == "auto" else parse_address(self._listen)
        try:
            self._socket, where = udp_socket(address)
            self._socket.bind(where)
        except OSError as error:
            self.close()
            problem = f"OSC commands cannot come in at {address.host}:{address.port} ({error.strerror or error})."
            if self._listen != "auto":
                raise OutputError(f"{problem} Choose another address, or none.") from error
            self._notice(f"{problem} Going on without them.")
            self._is_open = True

    @property
    def address(self) -> Address | None:
        """Where it listens, None when nowhere."""
        return None if self._socket is None else Address(*self._socket.getsockname()[:2])

    def poll(self) -> list[Command]:
        """The commands that have come in since the last poll, oldest first; raises ClosedError when not open."""
        if not self._is_open:
            raise ClosedError("This OSC input is closed: open it before polling.")
        commands: list[Command] = []
        if self._socket is None:
            return commands
        for _ in range(MOST_AT_ONCE):
            try:
                datagram = self._socket.recv(DATAGRAM_BYTES)
            except (BlockingIOError, ConnectionError):
                break
            try:
                commands.append(command_of(datagram))
            except ValueError as error:
                self._tell(error)
        return commands

    def close(self) -> None:
        """Stop listening; closing again does nothing."""
        self._is_open = False
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _tell(self, error: ValueError) -> None:
        if not self._told:
            self._told = True
            self._notice(f"An OSC message that is no command was passed over ({error}); so will be any other.")


def command_of(datagram: bytes) -> Command:
    """The command in one plain OSC message; raises ValueError that says what is wrong with it."""
    for beginning, make in _COMMANDS.items():
        if datagram.startswith(beginning):
            try:
                return make(*OscMessage(datagram).params[:1])
            except (ParseError, ValueError, TypeError) as error:
                raise ValueError("a command with an argument that cannot be read") from error
    raise ValueError(f"it begins {datagram[:32]!r}")


def _arm(value: float) -> Command:
    return Arm(value != 0)


def _harp(name: str) -> Command:
    if not name:
        raise ValueError("a harp without a name")
    return ChangeHarp(name)


def _place(number: float) -> Command:
    # Also what a button says when it is let go, 0, is no place.
    if not 1 <= number < math.inf:
        raise ValueError("a harp's place, counted from 1")
    return ChangeHarp(str(int(number)))


def _panic(_value: float = 0.0) -> Command:
    return Panic()


def _beginning(address: str, types: str) -> bytes:
    """Address and type tags as they stand in the datagram, each ended by zeros up to a multiple of four bytes."""
    words = (address.encode(), f",{types}".encode())
    return b"".join(word + bytes(4 - len(word) % 4) for word in words)


#: Only what begins like this is parsed. Many control surfaces send floats where the contract has an int, and a value
#: with every button.
_COMMANDS: dict[bytes, Callable[..., Command]] = {
    _beginning("/reedwire/do/arm", "i"): _arm,
    _beginning("/reedwire/do/arm", "f"): _arm,
    _beginning("/reedwire/do/harp", "s"): _harp,
    _beginning("/reedwire/do/harp", "i"): _place,
    _beginning("/reedwire/do/harp", "f"): _place,
    _beginning("/reedwire/do/panic", ""): _panic,
    _beginning("/reedwire/do/panic", "i"): _panic,
    _beginning("/reedwire/do/panic", "f"): _panic,
}
