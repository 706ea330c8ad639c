"""``reedwire board`` in a process of its own, and what belongs to it."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from main_job import board_crowd
from main_job.command import REEDWIRE
from main_job.live import wait_until
from parts import running
from soak.memory import children
from sounds.rehearsed import rehearsed

#: What ``/proc/net/tcp`` calls a socket that listens (proc(5), state 0A).
_LISTENS = "0A"
_NAP_S = 0.005
_REHEARSALS = 8


@dataclass(frozen=True)
class BoardRun:
    """A board that runs: the command's process, its port and what it has said."""

    process: subprocess.Popen[bytes]
    port: int
    folder: Path

    @property
    def out(self) -> str:
        """What it has written to standard output so far."""
        return (self.folder / "out.txt").read_text(encoding="utf-8")

    @property
    def err(self) -> str:
        """The same of standard error."""
        return (self.folder / "err.txt").read_text(encoding="utf-8")

    def wait_until_served(self) -> None:
        """Wait until the page is there."""
        wait_until("the board is served", lambda: is_served(self.port), lambda: self.process.poll() is None)

    def pid(self) -> int:
        """The process that serves the board now."""
        return board_pid(self.process.pid, self.port)


@contextmanager
def board_run(folder: Path, *arguments: str) -> Iterator[BoardRun]:
    """``reedwire board`` with these arguments on a free port, without a browser; served as soon as it is given."""
    folder.mkdir(parents=True, exist_ok=True)
    port = free_tcp_port()
    command = [REEDWIRE, "board", "--no-browser", "--port", str(port), *arguments]
    with (folder / "out.txt").open("wb") as out, (folder / "err.txt").open("wb") as err:
        pipes: dict[str, object] = {"stdin": subprocess.DEVNULL, "stdout": out, "stderr": err}
        with running(command, cwd=folder, start_new_session=True, **pipes) as process:
            run = BoardRun(process, port, folder)
            run.wait_until_served()
            yield run


def long_sound(folder: Path) -> Path:
    """A recording of rehearsals on a C harp one after another, which no test outlasts, however slow the machine is."""
    known = rehearsed("C", 1)
    path = folder / "rehearsals.wav"
    soundfile.write(path, np.tile(known.samples, _REHEARSALS), known.rate)
    return path


def free_tcp_port() -> int:
    """A TCP port of the loopback that nobody listens on at the moment."""
    with socket.socket() as asking:
        asking.bind(("127.0.0.1", 0))
        port: int = asking.getsockname()[1]
        return port


def is_served(port: int) -> bool:
    """Whether somebody answers there."""
    try:
        with socket.create_connection(("127.0.0.1", port), 5.0) as line:
            line.settimeout(5.0)
            line.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n".encode())
            return line.recv(15) == b"HTTP/1.1 200 OK"
    except OSError:
        return False


def board_pid(parent: int, port: int) -> int:
    """The child of ``parent`` that holds the socket listening on ``port``; 0 while there is none."""
    return next((child for child in children(parent) if _inode(port) in _sockets(child)), 0)


def look_on(port: int, seconds: float, readers: int, silent: int = 0, floods: int = 0) -> list[dict[str, Any]]:
    """What a crowd of pages saw, as ``board_crowd`` says.

    Those who harm are a process of their own: what they cost must not make the readers slow.
    """
    with ExitStack() as opened:
        if silent or floods:
            harm = opened.enter_context(crowd(port, seconds + 1.0, 0, silent, floods))
            opened.callback(harm.communicate, timeout=seconds + 120.0)
        said, _ = opened.enter_context(crowd(port, seconds, readers)).communicate(timeout=seconds + 120.0)
    seen: list[dict[str, Any]] = json.loads(said)
    return seen


def crowd(
    port: int, seconds: float, readers: int, silent: int = 0, floods: int = 0
) -> AbstractContextManager[subprocess.Popen[bytes]]:
    """A crowd of pages as ``board_crowd`` says, in a process of its own that looks on for so long."""
    words = map(str, (port, seconds, readers, silent, floods))
    return running([sys.executable, board_crowd.__file__, *words], stdout=subprocess.PIPE)


@dataclass
class Lateness:
    """How late the machine itself wakes a process that sleeps, ms: what other programs cost everybody meanwhile."""

    late_ms: list[float]

    @property
    def p95_ms(self) -> float:
        """What 95 of 100 wakings do not exceed."""
        return float(np.quantile(self.late_ms, 0.95))


@contextmanager
def lateness() -> Iterator[Lateness]:
    """Measured while the ``with`` lasts."""
    over, measured = threading.Event(), Lateness([])

    def wake() -> None:
        while not over.is_set():
            began_s = time.monotonic()
            time.sleep(_NAP_S)
            measured.late_ms.append(1000.0 * (time.monotonic() - began_s - _NAP_S))

    thread = threading.Thread(target=wake)
    thread.start()
    try:
        yield measured
    finally:
        over.set()
        thread.join()


@contextmanager
def stalling(pid: int, stall_s: float = 0.2, every_s: float = 1.0) -> Iterator[None]:
    """Meanwhile the process stands still for ``stall_s`` seconds, once in ``every_s``."""
    over = threading.Event()

    def stall() -> None:
        while not over.wait(every_s - stall_s):
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGSTOP)
                time.sleep(stall_s)
                os.kill(pid, signal.SIGCONT)

    thread = threading.Thread(target=stall)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _inode(port: int) -> str:
    """The socket that listens on a port of the loopback, by its inode (proc(5), ``/proc/net/tcp``)."""
    for line in Path("/proc/net/tcp").read_text(encoding="ascii").splitlines()[1:]:
        fields = line.split()
        if fields[1] == f"0100007F:{port:04X}" and fields[3] == _LISTENS:
            return fields[9]
    return ""


def _sockets(pid: int) -> set[str]:
    """The inodes of the sockets that a process holds."""
    found = set()
    with suppress(OSError):
        for handle in Path(f"/proc/{pid}/fd").iterdir():
            with suppress(OSError):
                found.add(str(handle.readlink()).removeprefix("socket:[").removesuffix("]"))
    return found
