"""``reedwire replay``: what it says, what it refuses, and its line on a terminal."""

from __future__ import annotations

import os
import pty
import select
import sys
import termios
import time
from pathlib import Path
from typing import TypeAlias

import pytest

from bridge.cli.place_line import PlaceLine
from bridge.takes.replayed import Reach
from bridge.wiring.replaying import Progress
from cli.commands import run_here
from main_job.command import PATIENCE_S, free_port
from parts import running
from wiring.made_takes import PHRASE, make_take

Capture: TypeAlias = pytest.CaptureFixture[str]
Patch: TypeAlias = pytest.MonkeyPatch


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "99"), "ends at 3.8 s"),
        (("--from", "2", "--to", "1"), "Let the end come after the beginning"),
        (("--speed", "9"), "--speed: found 9, allowed: 0.1 to 4"),
        (("--from", "x"), "--from: found 'x'"),
        (("--sound", "--speed", "0.5"), "only be played at speed 1"),
        (("--sound",), "holds no sound"),
        (("--osc", "none"), "Neither MIDI nor OSC is on"),
    ],
)
def test_what_cannot_be_sent_is_told(
    tmp_path: Path, capsys: Capture, monkeypatch: Patch, words: tuple[str, ...], said: str
) -> None:
    """Status 2, one line that says what to do."""
    take = make_take(tmp_path / "phrase", sound_s=None).folder.path
    status, out, err = run_here(capsys, monkeypatch, "replay", str(take), "--midi", "none", *words)
    assert (status, out) == (2, "")
    assert said in err


def test_a_take_without_notes_is_told(tmp_path: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """There is nothing to send."""
    take = make_take(tmp_path / "empty", []).folder.path
    status, _, err = run_here(capsys, monkeypatch, "replay", str(take), "--midi", "none")
    assert status == 2
    assert "holds no notes" in err


def test_it_says_where_it_goes_and_how_it_ended(tmp_path: Path, capsys: Capture, monkeypatch: Patch) -> None:
    """The cautions come before any sound can; nothing is drawn where there is no terminal."""
    take = make_take(tmp_path / "phrase").folder.path
    osc = f"127.0.0.1:{free_port()}"
    words = ("--from", "3.2", "--speed", "4", "--midi", "none", "--osc", osc)
    status, out, err = run_here(capsys, monkeypatch, "replay", str(take), *words)
    assert status == 0
    assert out == f"phrase: OSC to {osc}. q or Ctrl-C ends it.\nDone: 1 note sent, none left sounding.\n"
    assert err.startswith("Hearing: ")
    assert "\x1b" not in err


class Terminal:
    """Standard error of a terminal, 40 columns wide, that keeps what is written."""

    def __init__(self) -> None:
        self.text = ""

    def isatty(self) -> bool:
        """It is one."""
        return True

    def write(self, text: str) -> None:
        """Keep it."""
        self.text += text

    def flush(self) -> None:
        """Nothing is held back."""


def test_the_line_tells_place_round_and_note_and_goes_away(monkeypatch: Patch) -> None:
    """Never wider than the terminal; what is said stands above it, and at the end it is gone."""
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("COLUMNS", "40")
    line = PlaceLine(Reach(60.0, 64.0, loop=True), 67)
    with line.showing(Progress(sent_s=6.5, notes=3, sounding=71)):
        line.say("The port went away.")
        until = time.monotonic() + 20.0
        while "round 2" not in terminal.text and time.monotonic() < until:
            time.sleep(0.01)
    assert "The port went away.\n" in terminal.text
    shown = terminal.text.split("\r\x1b[K")
    assert shown[-1] == ""
    place = next(words for words in shown if "round 2" in words).splitlines()[-1]
    assert place.startswith("1:02.5 of 1:04.0, round 2 [")
    assert place.endswith("B4")
    assert len(place) < 40


def test_a_terminal_that_is_gone_ends_nothing(monkeypatch: Patch) -> None:
    """The line gives up, what sends goes on."""

    class Gone(Terminal):
        """It has been closed."""

        def write(self, _text: str) -> None:
            """Nobody is there."""
            raise OSError(5, "Input/output error")

    monkeypatch.setattr("sys.stderr", Gone())
    with PlaceLine(Reach(0.0, PHRASE[-1].end_s), None).showing(Progress()):
        time.sleep(0.3)


def test_q_ends_it_and_the_terminal_is_given_back(tmp_path: Path) -> None:
    """On a real (pseudo) terminal: the line is drawn, q ends a loop, and the terminal's modes are what they were."""
    take = make_take(tmp_path / "phrase").folder.path
    master, slave = pty.openpty()
    before = termios.tcgetattr(slave)
    osc = f"127.0.0.1:{free_port()}"
    command = [sys.executable, "-m", "bridge.cli.main", "replay", str(take), "--loop", "--midi", "none", "--osc", osc]
    with running(["setsid", "--ctty", *command], stdin=slave, stdout=slave, stderr=slave) as process:
        seen = read_until(master, b" of 0:03.8, round 1")
        os.write(master, b"q")
        seen += read_until(master, b"none left sounding.")
        assert process.wait(PATIENCE_S) == 0
    assert b"Stopped at 0:0" in seen
    assert termios.tcgetattr(slave) == before
    os.close(master)
    os.close(slave)


def read_until(master: int, text: bytes) -> bytes:
    """What a terminal shows until that comes."""
    seen = b""
    until = time.monotonic() + PATIENCE_S
    while text not in seen:
        assert time.monotonic() < until, seen
        if select.select([master], [], [], 0.1)[0]:
            seen += os.read(master, 65536)
    return seen
