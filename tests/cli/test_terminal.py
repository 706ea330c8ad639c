"""The meter on a real (pseudo) terminal: it draws in place, obeys keys, and always gives the terminal back."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

_RATE = 48000
_ENTER, _LEAVE = b"\x1b[?1049h", b"\x1b[?1049l"


class Terminal:
    """A terminal of 80 by 24 with ``reedwire play`` on it, started by a shell that outlives it and tells its status."""

    def __init__(self, file: Path, *more: str, osc: str = "none") -> None:
        self._master, slave = pty.openpty()
        termios.tcsetwinsize(slave, (24, 80))
        self.before = termios.tcgetattr(slave)
        self.seen = b""
        self._looked_to = 0
        environment = {**os.environ, "TERM": "xterm-256color", "PYTHONUNBUFFERED": "1"}
        environment.pop("NO_COLOR", None)
        command = [sys.executable, "-m", "bridge.cli.main", "play", "--input", str(file), "--midi", "none", *more]
        self._shell = subprocess.Popen(
            ["setsid", "--ctty", "sh", "-c", 'trap : INT; "$@"; echo "status $?."', "sh", *command, "--osc", osc],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=file.parent,
            env=environment,
        )
        self._slave = slave

    def read_until(self, text: bytes, patience_s: float = 60.0) -> None:
        """Read what is drawn until ``text`` comes after what was last waited for; fails when it never does."""
        end = time.monotonic() + patience_s
        while (found := self.seen.find(text, self._looked_to)) < 0:
            if select.select([self._master], [], [], 0.1)[0]:
                self.seen += os.read(self._master, 65536)
            assert time.monotonic() < end, f"{text!r} never came after {self.seen[self._looked_to :][-2000:]!r}"
        self._looked_to = found + len(text)

    def read_on(self) -> None:
        """Read what has been drawn, so that the meter need not wait for a reader."""
        while select.select([self._master], [], [], 0.0)[0]:
            self.seen += os.read(self._master, 65536)

    def type(self, keys: bytes) -> None:
        """Press keys."""
        os.write(self._master, keys)

    def wait(self) -> int:
        """Read on until the program has ended; its exit status as the shell sees it."""
        self.read_until(b"status ")
        start = self._looked_to
        self.read_until(b".")
        self._shell.wait()
        return int(self.seen[start : self._looked_to - 1])

    @property
    def pid(self) -> int:
        """The process of the program."""
        (pid,) = _children(self._shell.pid)
        return pid

    @property
    def modes(self) -> list[object]:
        """How the terminal is set now."""
        return termios.tcgetattr(self._slave)

    @property
    def meter_pid(self) -> int:
        """The process of the meter: the child of the program that is no resource tracker."""
        (pid,) = [pid for pid in _children(self.pid) if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes()]
        return pid

    def close(self) -> None:
        """End the program if it has not ended, and the terminal."""
        if self._shell.poll() is None:
            for pid in _children(self._shell.pid):
                os.kill(pid, signal.SIGKILL)
            self._shell.kill()
            self._shell.wait()
        os.close(self._master)
        os.close(self._slave)


def minute_of_a_third(folder: Path) -> Path:
    """A minute of a blue third."""
    time_s = np.arange(60 * _RATE) / _RATE
    # 325 cents above the root of a C harp in cross position, G4 (equal temperament, A4 = 440: 391.995 Hz).
    hz = 391.995 * 2 ** (325 / 1200)
    wave = sum(0.2 / n * np.sin(2 * np.pi * hz * n * time_s) for n in (1, 2, 3))
    soundfile.write(folder / "third.wav", wave, _RATE)
    return folder / "third.wav"


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    """A terminal on which a minute of a blue third is played."""
    opened = Terminal(minute_of_a_third(tmp_path))
    yield opened
    opened.close()


@pytest.fixture
def terminal_with_set(tmp_path: Path) -> Iterator[Terminal]:
    """The same with a set of three harps."""
    opened = Terminal(minute_of_a_third(tmp_path), "--harps", "C,A,low-D")
    yield opened
    opened.close()


def test_it_draws_in_place_and_q_ends_it(terminal: Terminal) -> None:
    """The meter has a screen of its own, shows note, degree, cents and place, never scrolls, and gives all back."""
    terminal.read_until(b"B4")
    terminal.read_until(b"in the blue zone")
    for words in (b"C harp, cross position", b"325 cents above G", b"LISTENING", b"degree 3", b"fully blue"):
        assert words in terminal.seen
    for _ in range(6):
        terminal.read_until(b"\x1b[H")
    assert terminal.modes != terminal.before
    terminal.type(b"q")
    assert terminal.wait() == 0
    assert terminal.modes == terminal.before
    drawn = terminal.seen[terminal.seen.index(_ENTER) : terminal.seen.rindex(_LEAVE)]
    # On a screen of 24 rows a frame may hold 23 line feeds; one more and it would scroll.
    frames = re.split(rb"\x1b\[H", drawn)
    assert len(frames) > 5
    assert max(frame.count(b"\n") for frame in frames) <= 23
    assert b"1 note in" in terminal.seen[terminal.seen.rindex(_LEAVE) :]


def test_space_disarms_and_arms(terminal: Terminal) -> None:
    """The space bar stops the listening, and the next one begins it again with a new note."""
    terminal.read_until(b"in the blue zone")
    terminal.type(b" ")
    terminal.read_until(b"NOT LISTENING")
    terminal.read_until(b"heard, not sent")
    terminal.type(b"x \t")
    terminal.read_until(b"in the blue zone")
    terminal.type(b"q")
    assert terminal.wait() == 0
    assert b"2 notes in" in terminal.seen[terminal.seen.rindex(_LEAVE) :]


def test_keys_take_another_harp_of_the_set(terminal_with_set: Terminal) -> None:
    """A digit, n and p each end the note and begin it anew on the other harp, which the screen shows at once."""
    terminal = terminal_with_set
    terminal.read_until(b"in the blue zone")
    assert b"[1 C]  2 A  3 low-D" in terminal.seen
    for key, harp, shown in (
        (b"2", b"A harp", b"[2 A]"),
        (b"n", b"low-D harp", b"[3 low-D]"),
        (b"n", b"C harp", b"[1 C]"),
    ):
        terminal.type(key)
        terminal.read_until(shown)
        terminal.read_until(harp)
    terminal.type(b"p")
    terminal.read_until(b"[3 low-D]")
    terminal.read_until(b"degree")
    terminal.type(b"q")
    assert terminal.wait() == 0
    assert b"5 notes in" in terminal.seen[terminal.seen.rindex(_LEAVE) :]


def test_ctrl_z_pauses_nothing(terminal: Terminal) -> None:
    """A performance paused in a note would leave it sounding: Ctrl-Z is a key without meaning, and drawing goes on."""
    terminal.read_until(b"in the blue zone")
    terminal.type(b"\x1a")
    for _ in range(20):
        terminal.read_until(b"\x1b[H")
    terminal.type(b"q")
    assert terminal.wait() == 0
    assert terminal.modes == terminal.before


@pytest.mark.parametrize("how", ["ctrl-c", "terminate"])
def test_a_signal_ends_it_in_good_order(terminal: Terminal, how: str) -> None:
    """Ctrl-C and SIGTERM end the note, the meter and the program; the terminal is as before and no traceback shows."""
    terminal.read_until(b"in the blue zone")
    if how == "ctrl-c":
        terminal.type(b"\x03")
    else:
        os.kill(terminal.pid, signal.SIGTERM)
    assert terminal.wait() == 0
    assert terminal.modes == terminal.before
    assert b"Traceback" not in terminal.seen
    assert b"1 note in" in terminal.seen[terminal.seen.rindex(_LEAVE) :]


def test_when_the_program_is_killed_the_meter_gives_the_terminal_back(terminal: Terminal) -> None:
    """After SIGKILL of the program the meter ends by itself and leaves screen and modes as they were."""
    terminal.read_until(b"in the blue zone")
    meter = terminal.meter_pid
    os.kill(terminal.pid, signal.SIGKILL)
    terminal.read_until(_LEAVE)
    for _ in range(2000):
        if not _runs(meter):
            break
        time.sleep(0.01)
    assert not _runs(meter)
    assert terminal.modes == terminal.before


def test_when_the_meter_is_killed_the_music_goes_on(terminal: Terminal) -> None:
    """After SIGKILL of the meter the program plays on, and puts the terminal back when it ends."""
    terminal.read_until(b"in the blue zone")
    os.kill(terminal.meter_pid, signal.SIGKILL)
    time.sleep(0.5)
    os.kill(terminal.pid, signal.SIGINT)
    assert terminal.wait() == 0
    assert terminal.modes == terminal.before
    assert _LEAVE in terminal.seen
    assert b"1 note in" in terminal.seen


def _children(pid: int) -> list[int]:
    """The processes that the process started (proc(5): /proc/PID/task/TID/children)."""
    return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()]


def _runs(pid: int) -> bool:
    """Whether the process runs; one that has ended and waits to be buried does not."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"
