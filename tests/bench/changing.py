"""How long another harp takes: ``python -m bench.changing`` (with ``PYTHONPATH=tests:.``) prints it.

By itself: the change inside the chain, while a note sounds, between all harps there are. The whole way: ``reedwire
play`` on a terminal, a key pressed there or a command sent by OSC, until the sounding note has ended on the wire, until
the next one has begun, and until the screen shows the harp.
"""

from __future__ import annotations

import socket
import statistics
import sys
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from bridge.base.events import AudioBlock
from bridge.harp.keys import KEYS
from bridge.wiring.chain import Chain
from bridge.wiring.settings import load_settings
from cli.test_terminal import Terminal, minute_of_a_third
from follow.tones import RATE, blocks_of, harmonic_tone

_BEGUN_S = 0.3
_PRESSES = 24
_PATIENCE_S = 10.0
_PLACES = (b"[1 C]", b"[2 A]", b"[3 low-D]")


def inside_ms() -> list[float]:
    """Milliseconds that the chain takes for each change, from every harp to the next."""
    chain = Chain(load_settings(flags={"harp.harps": [key.name for key in KEYS]}), RATE)
    passed = []
    for _ in KEYS:
        start = round(chain.now_s * RATE)
        for block in blocks_of(harmonic_tone(493.88, _BEGUN_S), 128):
            chain.feed(AudioBlock(start + block.start, RATE, block.samples))
        before = time.perf_counter()
        chain.change_harp("next")
        passed.append(1000.0 * (time.perf_counter() - before))
    return passed


def whole_way_ms(*, by_osc: bool) -> dict[str, list[float]]:
    """Milliseconds from the press, or from the OSC command, to note off, to the next note on, and to the screen."""
    passed: dict[str, list[float]] = {"note off": [], "next note on": [], "screen": []}
    with (
        tempfile.TemporaryDirectory() as folder,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ear,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as mouth,
    ):
        ear.bind(("127.0.0.1", 0))
        ear.setblocking(False)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        more = ("--harps", "C,A,low-D", "--set", f"send.osc.listen=127.0.0.1:{port}")
        terminal = Terminal(minute_of_a_third(Path(folder)), *more, osc=f"127.0.0.1:{ear.getsockname()[1]}")
        try:
            terminal.read_until(b"in the blue zone")
            for number in range(1, _PRESSES + 1):
                _rest(ear, terminal, 0.3 + 0.013 * number)
                before = time.perf_counter()
                if by_osc:
                    mouth.sendto(b"/reedwire/do/harp\0\0\0,s\0\0next\0\0\0\0", ("127.0.0.1", port))
                else:
                    terminal.type(b"n")
                _hear(ear, terminal, b"/reedwire/off\0")
                passed["note off"].append(1000.0 * (time.perf_counter() - before))
                _hear(ear, terminal, b"/reedwire/on\0")
                passed["next note on"].append(1000.0 * (time.perf_counter() - before))
                terminal.read_until(_PLACES[number % len(_PLACES)])
                passed["screen"].append(1000.0 * (time.perf_counter() - before))
            terminal.type(b"q")
            terminal.wait()
        finally:
            terminal.close()
    return passed


def main() -> None:
    """Print the figures."""
    _say("inside the chain", inside_ms())
    for by_osc, name in ((False, "key"), (True, "OSC")):
        for until, values in whole_way_ms(by_osc=by_osc).items():
            _say(f"{name} to {until}", values)


def _say(what: str, values: list[float]) -> None:
    typical, most = statistics.median(values), max(values)
    sys.stdout.write(f"{what:<22} {typical:6.1f} ms typical, {most:6.1f} at most, of {len(values)}\n")


def _hear(ear: socket.socket, terminal: Terminal, address: bytes) -> None:
    """Take datagrams, while the terminal is read, until one begins with the address."""
    until = time.perf_counter() + _PATIENCE_S
    while time.perf_counter() < until:
        terminal.read_on()
        with suppress(BlockingIOError):
            if ear.recv(4096).startswith(address):
                return
            continue
        time.sleep(0.0005)
    raise TimeoutError(f"{address!r} never came")


def _rest(ear: socket.socket, terminal: Terminal, seconds: float) -> None:
    """Let the note sound, and take all that comes meanwhile."""
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        terminal.read_on()
        with suppress(BlockingIOError):
            while ear.recv(4096):
                pass
        time.sleep(0.005)


if __name__ == "__main__":
    main()
