"""Keys of a (pseudo) terminal. The codes are those of ECMA-48 and xterm, as in ``infocmp xterm``."""

from __future__ import annotations

import os
import pty
import select
import termios
from collections.abc import Iterator

import pytest

from bridge.base.commands import Arm, Begin, ChangeHarp, Command, Stop, Tap
from bridge.cli.keys import CODES, Keys
from bridge.cli.meter_view import draw
from bridge.send.settings import KEY_NAMES
from bridge.takes.display_state import DisplayState
from bridge.wiring.meter_process import MeterSetup


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """Where to type, and the path of the terminal."""
    master, slave = pty.openpty()
    yield master, os.ttyname(slave)
    os.close(master)
    os.close(slave)


def typed(terminal: tuple[int, str], pressed: bytes, arm_key: str | None, harps: int = 1) -> list[Command]:
    """What these bytes ask for."""
    master, path = terminal
    with Keys(path, arm_key, harps) as keys:
        os.write(master, pressed)
        assert select.select([keys._handle], [], [], 10.0)[0]
        return keys.commands()


@pytest.mark.parametrize(
    ("arm_key", "pressed", "commands"),
    [
        (None, b" b q", [Arm(), Arm(), Stop()]),
        ("b", b"b \x1b[5~", [Arm(), Arm()]),
        ("page-down", b"\x1b[6~", [Arm()]),
        ("up", b"\x1b[A\x1bOA\x1b[B", [Arm(), Arm()]),
        ("f1", b"\x1bOP\x1b[11~\x1b[[A", [Arm(), Arm(), Arm()]),
        ("f5", b"\x1b[15~", [Arm()]),
        ("enter", b"\r", [Arm()]),
        ("ä", "ä".encode(), [Arm()]),
        (None, b"tt", [Tap(), Tap()]),
        (None, b"\r", [Begin()]),
        ("A", b"\x1b[A", []),  # an arrow is no letter
        ("b", b"\x1bOq", []),  # nor is the 1 of the number pad a q
    ],
)
def test_the_space_bar_and_one_more_key_arm(
    terminal: tuple[int, str], arm_key: str | None, pressed: bytes, commands: list[Command]
) -> None:
    """Each press counts, other keys do nothing, and a key's code counts as a whole."""
    assert typed(terminal, pressed, arm_key) == commands


@pytest.mark.parametrize(
    ("arm_key", "harps", "pressed", "commands"),
    [
        (None, 3, b"1", [ChangeHarp("1")]),
        (None, 3, b"93np", [ChangeHarp("9"), ChangeHarp("3"), ChangeHarp("next"), ChangeHarp("previous")]),
        ("3", 3, b"23", [ChangeHarp("2"), Arm()]),  # a key that was set means what was set
        (None, 3, b"0\x1b[5~\x1b[11~", []),  # nor are the digits in other keys' codes
        (None, 1, b"12np", []),
    ],
)
def test_digits_and_letters_take_another_harp_of_a_set(
    terminal: tuple[int, str], arm_key: str | None, harps: int, pressed: bytes, commands: list[Command]
) -> None:
    """1 to 9 are places, n is the next and p the previous one; with one harp they mean nothing."""
    assert typed(terminal, pressed, arm_key, harps) == commands


@pytest.mark.parametrize(("early", "commands"), [(True, [Stop()]), (False, [])])
def test_a_key_that_was_typed_before_counts_if_asked_for(
    terminal: tuple[int, str], early: bool, commands: list[Command]
) -> None:
    """Who types q while a performance begins wants it to end."""
    master, path = terminal
    os.write(master, b"q")
    # The system hands it on by itself, a while later: once it echoes, it has been typed.
    assert os.read(master, 1) == b"q"
    with Keys(path, early=early) as keys:
        assert keys.commands() == commands


def test_no_key_of_the_terminal_pauses_or_kills(terminal: tuple[int, str]) -> None:
    """Ctrl-Z and Ctrl-backslash (POSIX: SUSP and QUIT) are keys that pause and kill nothing, until it is over."""
    master, path = terminal
    before = termios.tcgetattr(master)
    with Keys(path):
        signs = termios.tcgetattr(master)[6]
        off = bytes([os.fpathconf(master, "PC_VDISABLE")])
        assert [signs[termios.VSUSP], signs[termios.VQUIT]] == [off, off]
        assert signs[termios.VINTR] == b"\x03"
    assert termios.tcgetattr(master) == before
    assert typed(terminal, b"\x1a\x1c", None) == [Stop()]


def test_a_key_ends_the_waiting(terminal: tuple[int, str]) -> None:
    """What is tapped in time is taken at once, not at the next picture."""
    master, path = terminal
    with Keys(path) as keys:
        os.write(master, b"t")
        keys.wait(1e6)
        assert keys.commands() == [Tap()]


def test_a_terminal_that_hung_up_is_waited_for_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its end can be read without end, so it would never let any time pass."""
    master, slave = pty.openpty()
    slept: list[float] = []
    monkeypatch.setattr("bridge.cli.keys.time.sleep", slept.append)
    with Keys(os.ttyname(slave)) as keys:
        os.close(slave)
        os.close(master)
        assert keys.commands() == []
        keys.wait(0.05)
    assert slept == [0.05]


def test_every_name_that_may_be_set_has_a_code() -> None:
    """The settings and the terminal know the same names, and no code has two."""
    assert set(CODES) == set(KEY_NAMES)
    codes = [code for several in CODES.values() for code in several]
    assert len(codes) == len(set(codes))


def test_the_meter_names_the_key() -> None:
    """Below the road stands what starts and stops the listening."""
    setup = MeterSetup("play", 440.0, 400.0, 300.0, 350.0, 315.0, 365.0, None, os.getpid(), arm_key="page-down")
    lines = [line.plain for line in draw(DisplayState(), setup, 80, 24)]
    assert any("space or page-down: listen or stop listening" in line for line in lines)
