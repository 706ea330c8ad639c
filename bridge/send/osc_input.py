"""Commands that come in by OSC: ``/reedwire/do/arm i``, ``/reedwire/do/harp s`` or ``i``, ``/reedwire/do/panic``."""

from __future__ import annotations

import math
import socket
from collections.abc import Callable

from pythonosc.osc_message import OscMessage, ParseError

from bridge.base.commands import Arm, ChangeHarp, Command, Panic
from bridge.base.errors import ClosedError, OutputError
from bridge.send.address import Address, parse_address, udp_socket
from bridge.send.catalogue import catalogue
from bridge.send.settings import OscSettings

#: Where ``auto`` listens: this machine only.
DEFAULT_ADDRESS = Address("127.0.0.1", 9001)
DATAGRAM_BYTES = 4096
#: Datagrams taken between two hops: a flood must not hold up the sound.
MOST_AT_ONCE = 16
#: So much of what came is shown of it, bytes.
_SHOWN_BYTES = 32
#: So many different complaints are told, whoever sends.
MOST_TOLD = 12


class OscInput:
    """Listens on UDP without ever waiting.

    What is no command is passed over, with one ``notice`` for each sender and each kind of mistake.
    """

    def __init__(self, settings: OscSettings, notice: Callable[[str], None]) -> None:
        self._listen = settings.listen
        self._notice = notice
        self._told: set[tuple[str, bytes]] = set()
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
                datagram, sender = self._socket.recvfrom(DATAGRAM_BYTES)
            except OSError:
                # Nothing more has come, or nothing can come until the network is back.
                break
            command = command_of(datagram)
            if command is not None:
                commands.append(command)
            elif not is_let_go(datagram):
                self._tell(datagram, str(sender[0]))
        return commands

    def close(self) -> None:
        """Stop listening; closing again does nothing."""
        self._is_open = False
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _tell(self, datagram: bytes, host: str) -> None:
        """Say what is wrong, unless this host has made this mistake before or enough was said."""
        address = _address(datagram)
        mistake = (host, address if address in _EXPECTED else b"")
        if mistake in self._told or len(self._told) >= MOST_TOLD:
            return
        self._told.add(mistake)
        last = " More of the like is passed over without a word." if len(self._told) == MOST_TOLD else ""
        self._notice(f"OSC from {host} was passed over: {mistake_in(datagram)}{last}")


def command_of(datagram: bytes) -> Command | None:
    """The command in one plain OSC message; None when there is none."""
    for beginning, make in _COMMANDS.items():
        if datagram.startswith(beginning):
            try:
                return make(*OscMessage(datagram).params[:1])
            except (ParseError, ValueError, TypeError):
                return None
    return None


def is_let_go(datagram: bytes) -> bool:
    """Whether it is what a button for panic says when it is let go: no command, and no mistake of anybody's."""
    return _address(datagram) == _PANIC.encode() and _values_in(datagram) == "with the number 0"


def mistake_in(datagram: bytes) -> str:
    """What came in a datagram that is no command, and what is expected instead, in a sentence or two."""
    address = _address(datagram)
    if address in _EXPECTED:
        return f"{address.decode()} came {_values_in(datagram)}. It takes {_EXPECTED[address]}."
    if address == b"#bundle":
        return "a bundle came. Send each command as a plain message."
    return f"{_shown(address)} is no command. There are {', '.join(known.decode() for known in _EXPECTED)}."


def _address(datagram: bytes) -> bytes:
    return datagram.partition(b"\0")[0]


def _values_in(datagram: bytes) -> str:
    """What comes after the address, in words."""
    tags = datagram[len(_address(datagram)) :].lstrip(b"\0").partition(b"\0")[0]
    if tags in {b"", b","}:
        return "without a value"
    if tags not in {b",i", b",f", b",s"}:
        return f"with values of the types {_shown(tags)}"
    try:
        (value,) = OscMessage(datagram).params
    except (ParseError, ValueError):
        return "with a value that is not whole"
    return f"with the text {_shown(value.encode())}" if isinstance(value, str) else f"with the number {value:g}"


def _shown(text: bytes) -> str:
    """Text from outside, short and safe for any terminal, in quotes."""
    return ascii(text[:_SHOWN_BYTES].decode("utf-8", "replace"))


def _arm(value: float) -> Command:
    return Arm(value != 0)


def _harp(name: str) -> Command:
    if not name:
        raise ValueError("no name")
    return ChangeHarp(name)


def _place(number: float) -> Command:
    # Also what a button says when it is let go, 0, is no place.
    if not 1 <= number < math.inf:
        raise ValueError("no place")
    return ChangeHarp(str(int(number)))


def _panic(value: float = 1.0) -> Command:
    # What a button says when it is let go would end the note that was begun since.
    if value == 0:
        raise ValueError("let go")
    return Panic()


def _beginning(address: str, types: str) -> bytes:
    """Address and type tags as they stand in the datagram, each ended by zeros up to a multiple of four bytes."""
    words = (address.encode(), f",{types}".encode())
    return b"".join(word + bytes(4 - len(word) % 4) for word in words)


_ARM, _HARP, _PANIC = (catalogue().osc_in[name].address for name in ("arm", "harp", "panic"))

#: Only what begins like this is parsed. Many control surfaces send floats where the contract has an int, and a value
#: with every button.
_COMMANDS: dict[bytes, Callable[..., Command]] = {
    _beginning(_ARM, "i"): _arm,
    _beginning(_ARM, "f"): _arm,
    _beginning(_HARP, "s"): _harp,
    _beginning(_HARP, "i"): _place,
    _beginning(_HARP, "f"): _place,
    _beginning(_PANIC, ""): _panic,
    _beginning(_PANIC, "i"): _panic,
    _beginning(_PANIC, "f"): _panic,
}

#: Each command, and what it takes.
_EXPECTED: dict[bytes, str] = {
    _ARM.encode(): "a number: 1 to listen, 0 to stop listening",
    _HARP.encode(): "the name of a harp, such as Bb, or its place in the set, counted from 1",
    _PANIC.encode(): "no value, or a number other than 0",
}
