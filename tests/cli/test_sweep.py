"""``reedwire sweep``: what it says and asks before anything moves."""

from __future__ import annotations

import os
import pty
import select
import sys
import termios
from collections.abc import Callable

import pytest

from bridge.base.errors import OutputError
from bridge.send.kept_port import PortNews
from cli.commands import run_here

NO_MIDI = "There is no MIDI system. Going on without MIDI."


class Port:
    """A port of our own; ``there`` says whether there is a MIDI system to make it in."""

    there = True
    opened = 0

    lost = False

    def __init__(self, _wanted: str, notice: object, **_: object) -> None:
        self._notice = notice

    def open(self) -> None:
        """Open it, or say that there is none."""
        type(self).opened += 1
        if not self.there:
            assert callable(self._notice)
            self._notice(NO_MIDI)

    def send(self, data: bytes) -> None:
        """Let it go."""

    def attend(self, _now_s: float) -> PortNews:
        """It never goes away."""
        return PortNews.SAME

    def close(self) -> None:
        """Nothing to close."""


@pytest.fixture
def port(monkeypatch: pytest.MonkeyPatch) -> type[Port]:
    """The port that is opened, and a sweep that ends at once."""

    class Fresh(Port):
        pass

    monkeypatch.setattr("bridge.cli.sweep.MidiPort", Fresh)
    monkeypatch.setattr("bridge.cli.sweep.run_sweep", lambda *_, **__: None)
    return Fresh


def test_without_midi_nothing_is_said_to_go_there(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, port: type[Port]
) -> None:
    """Only OSC is told of; with that off too nothing could be swept, status 2."""
    port.there = False
    status, out, err = run_here(capsys, monkeypatch, "sweep", "breath", "--osc", "127.0.0.1:9")
    assert status == 0
    assert out.startswith("OSC to 127.0.0.1:9: breath")
    assert "controller" not in out
    assert NO_MIDI in err
    status, out, err = run_here(capsys, monkeypatch, "sweep", "breath", "--osc", "none")
    assert (status, out) == (2, "")
    assert "nothing can be sent" in err


@pytest.mark.parametrize(
    ("words", "answer", "status", "asked"),
    [((), True, 0, 1), ((), False, 1, 1), (("--yes",), False, 0, 0), (("--midi", "synth"), False, 0, 0)],
    ids=["joined", "not joined", "--yes", "a port that is there"],
)
def test_on_a_terminal_it_asks_whether_its_port_is_joined(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    port: type[Port],
    words: tuple[str, ...],
    answer: bool,
    status: int,
    asked: int,
) -> None:
    """Once the port is open, so that it can be joined; a no ends it before anything moves."""
    questions: list[str] = []

    def confirm(text: str, **_: object) -> bool:
        assert port.opened == 1
        questions.append(text)
        return answer

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("bridge.cli.sweep.typer.confirm", confirm)
    ended, out, err = run_here(capsys, monkeypatch, "sweep", "breath", "--osc", "none", *words)
    assert (ended, len(questions)) == (status, asked)
    assert ("Done: at rest" in out) is (status == 0)
    assert ("Stopped; nothing was moved." in err) is (status == 1)
    if questions:
        assert questions == ["Join the MIDI port reedwire to your synth. Is it joined?"]


def test_in_a_pipe_nothing_is_asked(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, port: type[Port]
) -> None:
    """The port is named all the same."""
    monkeypatch.setattr(sys.stdin, "isatty", lambda: False, raising=False)
    status, out, _ = run_here(capsys, monkeypatch, "sweep", "breath", "--osc", "none")
    assert (status, port.opened) == (0, 1)
    assert out.startswith("To our own MIDI port, reedwire: breath as controller 11 on channel 1")


def test_a_port_that_cannot_be_had_is_told_before_anything_else(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, port: type[Port]
) -> None:
    """Nothing is said to be sent to it; status 2."""

    def refuse(_self: Port) -> None:
        raise OutputError("No MIDI port fits 'nowhere'.")

    monkeypatch.setattr(port, "open", refuse)
    status, out, err = run_here(capsys, monkeypatch, "sweep", "breath", "--midi", "nowhere")
    assert (status, out, err) == (2, "", "reedwire: No MIDI port fits 'nowhere'.\n")


def test_no_key_leaves_its_note_sounding(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, port: type[Port]
) -> None:
    """While it moves, the terminal raises no signal at Ctrl-Z and Ctrl-backslash; afterwards it is as before."""
    master, slave = pty.openpty()
    off = bytes([os.fpathconf(slave, "PC_VDISABLE")])
    before = termios.tcgetattr(slave)
    meanwhile: list[bytes] = []

    def moved(*_: object, **__: object) -> None:
        signs = termios.tcgetattr(slave)[6]
        meanwhile.extend((signs[termios.VSUSP], signs[termios.VQUIT]))

    monkeypatch.setattr("bridge.cli.sweep.key_terminal", lambda: os.ttyname(slave))
    monkeypatch.setattr("bridge.cli.sweep.run_sweep", moved)
    status, _, _ = run_here(capsys, monkeypatch, "sweep", "bend", "--midi", "synth", "--osc", "none")
    assert (status, port.opened) == (0, 1)
    assert meanwhile == [off, off]
    assert termios.tcgetattr(slave) == before
    os.close(slave)
    os.close(master)


@pytest.mark.parametrize("key", [b"q", b"\x1c"])
def test_q_and_ctrl_backslash_end_it(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, port: type[Port], key: bytes
) -> None:
    """As they end what is played; the word at the end says that it was stopped."""
    master, slave = pty.openpty()
    ended: list[bool] = []

    def moved(*_: object, stopped: Callable[[], bool], **__: object) -> None:
        ended.append(stopped())
        os.write(master, key)
        select.select([slave], [], [], 60.0)
        ended.append(stopped())

    monkeypatch.setattr("bridge.cli.sweep.key_terminal", lambda: os.ttyname(slave))
    monkeypatch.setattr("bridge.cli.sweep.run_sweep", moved)
    status, out, _ = run_here(capsys, monkeypatch, "sweep", "bend", "--midi", "synth", "--osc", "none")
    assert (status, port.opened, ended) == (0, 1, [False, True])
    assert "q or Ctrl-C ends it." in out
    assert out.endswith("Stopped: at rest, every note off.\n")
    os.close(slave)
    os.close(master)
