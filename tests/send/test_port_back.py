"""MIDI receivers, and the whole MIDI system, that go away and come back, on a real JACK server."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from queue import Empty, Queue
from threading import Thread

from jack_server import server_to_break
from parts import require, running

#: What the user was promised: back within two seconds of the return.
BACK_WITHIN_S = 2.0
HELD_UP_S = 2.0
#: Note Off, 123 and 120 (MIDI 1.0, channel mode messages), bend to its centre, then RPN 0: CC 101, 100, 6, 38.
BEGUN_ANEW = ["B0 7B 00", "B0 78 00", "E0 00 40", "B0 65 00", "B0 64 00", "B0 06 02", "B0 26 00"]
OFF, ON = "80 47 40", "90 47 60"


class Talking:
    """A process of ours whose lines are read as they come."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.lines: list[str] = []
        self._coming: Queue[str] = Queue()
        Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._coming.put(line.rstrip())

    def wait_for(self, words: str, within_s: float = 20.0) -> float:
        """Wait until a line holds these words; how long that took."""
        begun_s = time.monotonic()
        while (left_s := begun_s + within_s - time.monotonic()) > 0.0:
            try:
                line = self._coming.get(timeout=left_s)
            except Empty:
                break
            self.lines.append(line)
            if words in line:
                return time.monotonic() - begun_s
        raise AssertionError(f"no {words!r} within {within_s} s in {self.lines[-20:]}")

    def end(self) -> None:
        """Close its input, and read what it says until it has ended."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        assert self.process.wait(20.0) == 0
        self.all_lines()

    def all_lines(self) -> list[str]:
        """Every line so far, those that nobody waited for among them."""
        while True:
            try:
                self.lines.append(self._coming.get(timeout=0.5))
            except Empty:
                return self.lines

    @property
    def heard(self) -> list[str]:
        """The messages among its lines."""
        return [line.split(" ", 1)[1] for line in self.lines if line[:1].isdigit()]


@contextmanager
def talking(env: Mapping[str, str], *command: str) -> Iterator[Talking]:
    """A module of the tests in a process of its own, for the length of the block."""
    require("jack")
    full = [sys.executable, "-m", *command]
    env = {**env, "PYTHONPATH": os.pathsep.join(sys.path)}
    pipe = subprocess.PIPE
    with running(full, env=env, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL, text=True) as process:
        talks = Talking(process)
        try:
            talks.wait_for("ready")
            yield talks
        except AssertionError as error:
            error.add_note(f"{' '.join(command)} said: {talks.all_lines()[-20:]}")
            raise


def test_a_receiver_that_goes_away_and_comes_back_is_played_to_again() -> None:
    """Told once, taken up again, begun anew with its bend range; the engine stands still for less than a note lasts.

    rtmidi holds the interpreter while it opens a port: 0.1 to 0.4 s here; a loaded machine is given more.
    """
    with server_to_break() as server:
        with talking(server.env, "send.jack_ear", "ear") as ear, talking(server.env, "send.jack_mouth", "ear:in") as us:
            ear.wait_for(ON)
            ear.end()
            us.wait_for("is gone", BACK_WITHIN_S)
            with talking(server.env, "send.jack_ear", "ear") as again:
                us.wait_for("is back", BACK_WITHIN_S)
                again.wait_for(ON)
                again.wait_for(OFF)
                first = again.heard.index(BEGUN_ANEW[0])
                # Perhaps the Note Off that was owed.
                assert again.heard[:first] in ([], [OFF])
                assert again.heard[first : first + len(BEGUN_ANEW)] == BEGUN_ANEW
                us.end()
                again.end()
        assert again.heard.count(ON) <= again.heard.count(OFF)
        late_ms = [float(line.split()[1]) for line in us.all_lines() if line.startswith("late")]
        assert max(late_ms) < 1000.0 * HELD_UP_S
        assert [line for line in us.lines if line.startswith("The")] == [
            "The MIDI port 'ear:in' is gone. Playing goes on; it is taken up again when it is back.",
            "The MIDI port 'ear:in' is back.",
        ]


def test_a_server_that_was_killed_and_started_again_has_our_port_again() -> None:
    """Under the same name, within two seconds of the return; a note is heard by who joins it then; closing ends."""
    with server_to_break() as server:
        with talking(server.env, "send.jack_mouth", "virtual") as us:
            with talking(server.env, "send.jack_ear", "ear", "reedwire:reedwire") as ear:
                ear.wait_for(ON)
            server.send_signal(signal.SIGKILL)
            us.wait_for("is gone", 2.0 * BACK_WITHIN_S)
            time.sleep(1.0)
            server.start()
            us.wait_for("is back", BACK_WITHIN_S)
            with talking(server.env, "send.jack_ear", "ear", "reedwire:reedwire") as again:
                again.wait_for("joined", BACK_WITHIN_S)
                again.wait_for(ON)
                us.end()
                again.end()
        assert us.lines[-1] == "closed"
        assert again.heard.count(ON) <= again.heard.count(OFF)


def test_closing_does_not_hang_on_a_server_that_was_just_killed_or_stopped() -> None:
    """Nothing has noticed yet that it is gone; all the same the program ends."""
    for number in (signal.SIGKILL, signal.SIGSTOP):
        with server_to_break() as server:
            with talking(server.env, "send.jack_mouth", "virtual") as us:
                time.sleep(1.5)
                server.send_signal(number)
                us.end()
            assert us.lines[-1] == "closed"
            # Those who left without a word have left the server stuck.
            server.send_signal(signal.SIGKILL)
