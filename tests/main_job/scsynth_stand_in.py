"""A program that sclang starts in scsynth's place: it answers as scsynth does and notes when each command came.

``python scsynth_stand_in.py SCORE OPTIONS...`` takes the OPTIONS of scsynth. The commands become a score that ``scsynth
-N`` renders, timed from the first one on; SCORE is there, whole, once it has been asked to quit. It also ends when the
program that started it is gone.

Source of the commands and answers: SuperCollider 3.13, Server Command Reference; of the score's form (bundles of OSC,
each led by its size as a 32-bit integer, the last one being the end): its help on Non-Realtime Synthesis; of bundles
and time tags: Open Sound Control 1.0.
"""

from __future__ import annotations

import argparse
import os
import socket
import struct
import time
from pathlib import Path

from pythonosc.osc_message import OscMessage
from pythonosc.osc_message_builder import OscMessageBuilder

_RATE = 48000.0
_LOOK_S = 0.5
#: Rendered after the last command.
_TAIL_S = 0.5
_NO_CHANGE = b"/c_set\0\0,if\0" + bytes(8)
_AT_ONCE = b"\0\0\0\0\0\0\0\1"
#: What concerns the server alone and makes no sound.
_HOUSEKEEPING = {"/status", "/notify", "/sync"}


def main() -> None:
    """Serve until it is asked to quit or nobody is left who would ask."""
    options = argparse.ArgumentParser()
    options.add_argument("score", type=Path)
    options.add_argument("-u", dest="port", type=int, required=True)
    # sclang leaves it out where it is scsynth's own default.
    options.add_argument("-B", dest="host", default="127.0.0.1")
    given, _the_rest = options.parse_known_args()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as here:
        # Room for more than comes, should this process not get to run for a while.
        here.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
        here.bind((given.host, given.port))
        here.settimeout(_LOOK_S)
        noted = _served(here)
    if noted:
        noted.append((noted[-1][0] + _TAIL_S, _NO_CHANGE))
        unready = given.score.with_suffix(".unready")
        unready.write_bytes(b"".join(_bundle(at_s - noted[0][0], command) for at_s, command in noted))
        unready.replace(given.score)


def _served(here: socket.socket) -> list[tuple[float, bytes]]:
    """Answer until it is asked to quit; then the commands with their times. Nothing when nobody is left to ask."""
    starter = os.getppid()
    noted: list[tuple[float, bytes]] = []
    while os.getppid() == starter:
        try:
            data, sender = here.recvfrom(65536)
        except TimeoutError:
            continue
        now_s = time.monotonic()
        for command in _commands(data):
            name = _name(command)
            for answer in _answers(name, command):
                here.sendto(answer, sender)
            if name == "/quit":
                return noted
            if name not in _HOUSEKEEPING:
                noted.append((now_s, command))
    return []


def _bundle(at_s: float, command: bytes) -> bytes:
    """One line of a score: a command at a time in seconds from its beginning."""
    inside = struct.pack(">8sQi", b"#bundle\0", round(at_s * 2**32), len(command)) + command
    return struct.pack(">i", len(inside)) + inside


def _commands(data: bytes) -> list[bytes]:
    """The messages of a datagram: itself, or what is in the bundle that it is."""
    if not data.startswith(b"#bundle\0"):
        return [data]
    assert data[8:16] == _AT_ONCE, "a bundle for later, whose time would have to be kept"
    found, at = [], 16
    while at < len(data):
        begin = at + 4
        at = begin + int.from_bytes(data[at:begin], "big")
        found.append(data[begin:at])
    return found


def _name(data: bytes) -> str:
    """The address of a message; empty where sclang gives the number of a command instead (first byte zero)."""
    return data[: data.index(b"\0")].decode("ascii")


def _answers(name: str, data: bytes) -> list[bytes]:
    """What scsynth says to a command: nothing to most of them."""
    if name == "/status":
        # Unused, UGens, synths, groups, definitions, average and peak load, nominal and actual rate.
        return [_message("/status.reply", 1, 0, 1, 2, 1, 0.0, 0.0, _RATE, _RATE)]
    if name == "/sync":
        return [_message("/synced", *OscMessage(data).params)]
    if name == "/notify":
        # The client's number and how many clients there may be.
        return [_message("/done", name, 0, 1)]
    return [_message("/done", name)] if name in {"/d_recv", "/quit"} else []


def _message(address: str, *arguments: str | float) -> bytes:
    builder = OscMessageBuilder(address)
    for argument in arguments:
        builder.add_arg(argument)
    built: bytes = builder.build().dgram
    return built


if __name__ == "__main__":
    main()
