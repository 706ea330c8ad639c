"""The process that looks which MIDI ports there are: nothing it may hang in can hold up the engine."""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, BinaryIO

from bridge.send.midi_system import JoinedPort, Way, abandon, let_go, working

_LOOKER_NAME = "reedwire-look"
#: A client sees ports at once, but a JACK client whose server has died still sees those of before; so now and then, in
#: seconds, a new client must prove that the server lives. That costs 15 ms of a processor, looking costs under 1 ms.
_PROVE_S = 1.0
#: A client sees other ports than a new one when it does so this often, with so many seconds between.
_COMPARED, _BETWEEN_S = 5, 0.01
#: A look that takes longer, in seconds, hangs: the process ends, even with nobody left to end it. Long, because clients
#: that end without a word can leave a JACK server stuck.
_HANGS_S = 30
_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGTSTP)

Names = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Seen:
    """The names of all ports by the system they belong to; a system that does not answer is left out.

    ``takes``: ports that take MIDI; ``gives``: ports that give it.
    """

    takes: Names = field(default_factory=dict)
    gives: Names = field(default_factory=dict)

    def names(self, system: str, way: Way) -> tuple[str, ...]:
        """Ports of that system that take (``out``) or give (``in``) MIDI; none when it does not answer."""
        return (self.takes if way == "out" else self.gives).get(system, ())

    def answers(self, system: str) -> bool:
        """Whether that system answers."""
        return system in self.takes


def command() -> list[str]:
    """What starts the process: this Python, finding what we find."""
    code = "import sys; sys.path[:] = sys.argv[1:]; from bridge.send.port_looker import main; main()"
    return [sys.executable, "-c", code, *sys.path]


def write_ask(systems: Sequence[str], *, prove: bool) -> bytes:
    """The line that asks which ports these systems have; ``prove`` wants proof that they live, however recent."""
    return _line({"systems": list(systems), "prove": prove})


def write_seen(seen: Seen) -> bytes:
    """The line that answers an ask."""
    return _line(asdict(seen))


def read_seen(line: bytes) -> Seen:
    """What a line of :func:`write_seen` says."""
    found = json.loads(line)
    return Seen(*({name: tuple(ports) for name, ports in found[way].items()} for way in ("takes", "gives")))


def main() -> None:
    """Be the process: an empty line once all is up, then a line for each that asks, until the asker is gone.

    It also ends, after its answer, when a system has died that it knew: another process must look from then on. Signals
    that ask to stop are for the engine to hear, and none pauses it.
    """
    for number in _SIGNALS:
        signal.signal(number, signal.SIG_IGN)
    answers = os.dup(1)
    # What JACK's library has to say of a server that went away is no news to the player.
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    looks: dict[str, _Look] = {}
    try:
        _answer(sys.stdin.buffer, answers, looks)
    finally:
        signal.alarm(_HANGS_S)
        for look in looks.values():
            look.close()
        # A client of a dead server would never let Python end.
        os._exit(0)


def _answer(asked: BinaryIO, answers: int, looks: dict[str, _Look]) -> None:
    os.write(answers, b"\n")
    for line in asked:
        ask = json.loads(line)
        signal.alarm(_HANGS_S)
        found = {name: looks.setdefault(name, _Look(name)).names(prove=ask["prove"]) for name in ask["systems"]}
        signal.alarm(0)
        there = {name: names for name, names in found.items() if names is not None}
        takes = {name: names[0] for name, names in there.items()}
        os.write(answers, write_seen(Seen(takes, {name: names[1] for name, names in there.items()})))
        if any(look.spoiled for look in looks.values()):
            # In a process that holds clients of a dead server, new ones come and go by chance.
            return


def _line(value: object) -> bytes:
    return json.dumps(value).encode() + b"\n"


class _Look:
    """One system, looked at through one client each way; ``spoiled`` when it has died with them."""

    def __init__(self, system: str) -> None:
        self.spoiled = False
        self._system = system
        self._out: Any = None
        self._in: Any = None
        self._proven_s = 0.0

    def names(self, *, prove: bool) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
        """The ports that take and those that give MIDI; None when the system does not answer."""
        try:
            if self.spoiled:
                return None
            if self._out is None or prove or time.monotonic() - self._proven_s >= _PROVE_S:
                self._prove()
            if self._in is None or self._out is None:
                return None
            return tuple(self._out.get_ports()), tuple(self._in.get_ports())
        except (OSError, RuntimeError):
            self._forget()
            return None

    def close(self) -> None:
        """Leave the system, if it lives."""
        if not self.spoiled:
            self.names(prove=True)
        for client in (self._in, self._out):
            if client is not None:
                let_go(JoinedPort(client, self._system, None))

    def _prove(self) -> None:
        """See by a new client whether the system lives, and whether those there are still belong to it."""
        new = self._client("in")
        if new is None:
            self._forget()
            return
        if self._in is not None and self._differs(new):
            let_go(JoinedPort(new, self._system, None))
            self._forget()
            return
        self._proven_s = time.monotonic()
        if self._in is None:
            self._in = new
        else:
            let_go(JoinedPort(new, self._system, None))
        if self._out is None:
            self._out = self._client("out")

    def _differs(self, new: Any) -> bool:  # noqa: ANN401 -- rtmidi has no type information
        """Whether the client there is sees other ports than a new one, for good."""
        for _ in range(_COMPARED):
            if self._in.get_ports() == new.get_ports():
                return False
            # Perhaps a port came or went between the two.
            time.sleep(_BETWEEN_S)
        return True

    def _client(self, way: Way) -> Any:  # noqa: ANN401 -- rtmidi has no type information
        return next((client for _, client in working(_LOOKER_NAME, way, self._system)), None)

    def _forget(self) -> None:
        for client in (self._in, self._out):
            if client is not None:
                self.spoiled = True
                abandon(JoinedPort(client, self._system, None))
        self._in = self._out = None
