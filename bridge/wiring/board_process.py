"""The process that serves the board: fed like the meter, and started again whenever it dies while the playing goes on.

The sockets listen in the engine's process and are handed on, so that a board that comes back is found at the same
address, and a port that is taken is told before anything begins.
"""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from multiprocessing import get_context
from multiprocessing.connection import wait
from multiprocessing.process import BaseProcess

from bridge.base.commands import Arm, Command, Quiet
from bridge.base.handoff import HandOff
from bridge.base.records import RECORD_BYTES, Saying, decode_command, encode
from bridge.web.hub import STAMP
from bridge.web.setup import BoardSetup
from bridge.wiring.helper_faults import fault_kept
from bridge.wiring.notice import Notice
from bridge.wiring.steady import STOP_SIGNALS, ignore_signals, signals_held

#: Room for about five seconds of the densest stream; what finds none is lost to the board alone.
_FEED_RECORDS = 8192
_COMMAND_RECORDS = 64
#: One that lived shorter than this, in seconds, is not started again at once but after a while, each time a longer one.
_SHORT_LIFE_S = 5.0
_FIRST_PAUSE_S, _LONGEST_PAUSE_S = 0.25, 8.0
#: One that has left its feed full for so long, in seconds, hangs.
_HANGS_S = 3.0
_LOOK_S = 0.25


class BoardProcess:
    """A board that another process serves on ``listeners``, sockets that listen already and are closed at the end.

    ``notice`` hears when it died and is started again. Call ``start`` first, ``close`` last; ``came``, ``show``,
    ``say`` and ``poll_commands`` never wait and are for one thread.
    """

    def __init__(self, setup: BoardSetup, listeners: Sequence[socket.socket], notice: Notice) -> None:
        self._setup = setup
        self._listeners = tuple(listeners)
        self._notice = notice
        self._feed = HandOff(STAMP.size + RECORD_BYTES, _FEED_RECORDS)
        self._commands = HandOff(RECORD_BYTES, _COMMAND_RECORDS)
        self._stamp = STAMP.pack(time.monotonic_ns())
        self._process: BaseProcess | None = None
        self._ending = threading.Event()
        self._keeper: threading.Thread | None = None
        self._died = 0
        self._told = 0
        #: Whether the bridge listens only since the board asked for it, for an exercise.
        self._lent = False

    @property
    def pid(self) -> int | None:
        """The process that serves now; None before the first."""
        return None if self._process is None else self._process.pid

    @property
    def lost(self) -> int:
        """Records that the board was too slow for."""
        return self._feed.lost

    def start(self) -> None:
        """Start the process, and what sees to it that there is one; it serves within a second or so."""
        if self._keeper is not None:
            return
        self._begin()
        self._keeper = threading.Thread(target=self._keep, name="reedwire-board-keeper", daemon=True)
        self._keeper.start()

    def came(self, at_s: float) -> None:
        """The sound that is followed next came in at ``at_s``, monotonic seconds."""
        self._stamp = STAMP.pack(round(at_s * 1e9))

    def show(self, record: bytes) -> bool:
        """Show an encoded record; False when the board was too slow, or is just being started again, and it is lost."""
        return self._feed.push(self._stamp, record)

    def say(self, text: str) -> bool:
        """Show one line of text, at most 200 bytes."""
        return self.show(encode(Saying(text)))

    def poll_commands(self) -> list[Command]:
        """What the teacher asked for since the last call; whatever a board that died sounded or borrowed, ends."""
        # Before its orders: else the last order of a board that dies just now would come after its end is told.
        died = self._died
        commands = [decode_command(data) for data in self._commands.drain()]
        for command in commands:
            if isinstance(command, Arm):
                self._lent = command.lent
        if self._told < died:
            self._told = died
            self._notice("The board stopped. The playing goes on; the board is started again at the same address.")
            commands.append(Quiet(sounding=False))
            if self._lent:
                self._lent = False
                commands.append(Arm(armed=False))
        return commands

    def close(self, patience_s: float = 3.0) -> None:
        """Let it say goodbye to its pages, end it, and free its port; calling it again does nothing."""
        self._ending.set()
        self._feed.end()
        if self._keeper is not None:
            self._keeper.join()
        if self._process is not None:
            self._process.join(patience_s)
            for end in (self._process.terminate, self._process.kill):
                if self._process.is_alive():
                    end()
                    self._process.join(patience_s)
        for listener in self._listeners:
            listener.close()

    def _begin(self) -> None:
        """Start a process."""
        process = get_context("spawn").Process(
            target=_serve,
            args=(self._feed, self._commands, self._listeners, self._setup, os.getpid()),
            name="reedwire-board",
            daemon=True,
        )
        with signals_held():
            process.start()
        self._process = process

    def _keep(self) -> None:
        """Start another one whenever it has died or hangs, until the end: in a thread, since starting takes time."""
        pause_s = _FIRST_PAUSE_S
        began_s = read_s = time.monotonic()
        while not self._ending.is_set():
            process = self._process
            if process is not None and not wait([process.sentinel], timeout=_LOOK_S):
                now_s = time.monotonic()
                if self._feed.waiting < self._feed.capacity:
                    read_s = now_s
                elif now_s - read_s > _HANGS_S:
                    process.kill()
                continue
            if self._ending.is_set():
                return
            self._died += 1
            lived_s = time.monotonic() - began_s
            pause_s = _FIRST_PAUSE_S if lived_s >= _SHORT_LIFE_S else min(2.0 * pause_s, _LONGEST_PAUSE_S)
            if self._ending.wait(pause_s):
                return
            began_s = read_s = time.monotonic()
            with suppress(OSError):
                self._begin()


def _serve(
    feed: HandOff, commands: HandOff, listeners: Sequence[socket.socket], setup: BoardSetup, parent: int
) -> None:
    """Be the process: ends with the feed, with its parent, or when asked to; Ctrl-C is for the parent alone."""
    ignore_signals()
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, STOP_SIGNALS)
    with fault_kept("board"):
        # Only here: the engine's own process needs no web server.
        from bridge.web.server import serve

        serve(feed, commands, listeners, setup, lambda: os.getppid() == parent)
