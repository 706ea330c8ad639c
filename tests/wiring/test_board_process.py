"""The board's process: killed, stopped, hung and full, while the playing goes on."""

from __future__ import annotations

import asyncio
import http.client
import os
import signal
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from bridge.base.commands import Arm, Command, Quiet
from bridge.base.records import encode
from bridge.wiring.board_process import BoardProcess
from web.board_room import PATIENCE_S, Room, setup, sound


@contextmanager
def _started(folder: Path, said: list[str]) -> Iterator[tuple[BoardProcess, int]]:
    """A board in a process of its own, on a free port."""
    listener = socket.create_server(("127.0.0.1", 0))
    port = listener.getsockname()[1]
    board = BoardProcess(setup(folder / "page", port), [listener], said.append)
    board.start()
    try:
        _wait_until("it serves", lambda: _served(port))
        yield board, port
    finally:
        board.close()


def _served(port: int) -> bool:
    """Whether the page is there; a connection waits as long as nobody serves."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    try:
        line.request("GET", "/")
        return line.getresponse().status == 200
    except (ConnectionError, http.client.HTTPException):
        return False
    finally:
        line.close()


def _wait_until(what: str, holds: Callable[[], bool]) -> None:
    until = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < until, f"never: {what}"
        time.sleep(0.02)


def _asked(board: BoardProcess, commands: list[Command]) -> list[Command]:
    """All that the board has asked for since the list was begun."""
    commands += board.poll_commands()
    return commands


def _lives(pid: int | None) -> bool:
    """Whether a process runs: not gone, and not only waiting to be asked how it ended (proc(5): state Z)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def _kill(board: BoardProcess, number: signal.Signals = signal.SIGKILL) -> None:
    assert board.pid is not None
    os.kill(board.pid, number)


def test_a_board_that_was_killed_comes_back_at_the_same_address(tmp_path: Path) -> None:
    """Told in one line; who connects meanwhile waits; and the microphone no longer pauses for it."""
    said: list[str] = []
    with _started(tmp_path, said) as (board, port):
        first = board.pid
        commands: list[Command] = []
        _kill(board)
        assert _served(port)
        _wait_until("it is told", lambda: bool(_asked(board, commands) and said))
        assert board.pid != first
        assert board.show(encode(sound(1.0, 300.0)))
    assert said == ["The board stopped. The playing goes on; the board is started again at the same address."]
    assert commands == [Quiet(sounding=False)]


@pytest.mark.parametrize(
    ("orders", "ended"),
    [
        ([Arm(armed=True, lent=True)], [Arm(armed=False)]),
        ([Arm(armed=True, lent=True), Arm(armed=False)], []),
        ([Arm(armed=True, lent=True), Arm(armed=True)], []),
    ],
)
def test_a_bridge_that_listened_for_an_exercise_alone_stops_with_the_board(
    tmp_path: Path, orders: list[Command], ended: list[Command]
) -> None:
    """Once, and only where it was the board that last made it listen, for no longer than the exercise."""
    with _started(tmp_path, []) as (board, _):
        for order in orders:
            board._commands.push(encode(order))
        commands: list[Command] = []
        _wait_until("they come", lambda: len(_asked(board, commands)) == len(orders))
        _kill(board)
        _wait_until("it is told", lambda: len(_asked(board, commands)) > len(orders))
        assert commands == [*orders, Quiet(sounding=False), *ended]
        assert board.poll_commands() == []


def test_the_last_order_of_a_board_that_dies_meanwhile_is_not_forgotten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It lends the bridge an ear and dies while its orders are being read: the bridge listens, and then no more."""
    with _started(tmp_path, []) as (board, _):
        drain = board._commands.drain

        def drain_late() -> Iterator[bytes]:
            yield from drain()
            monkeypatch.undo()
            board._commands.push(encode(Arm(armed=True, lent=True)))
            _kill(board)
            _wait_until("it is missed", lambda: board._died > 0)

        monkeypatch.setattr(board._commands, "drain", drain_late)
        commands: list[Command] = []
        _wait_until("it is told", lambda: Arm(armed=False) in _asked(board, commands))
        assert commands == [Arm(armed=True, lent=True), Quiet(sounding=False), Arm(armed=False)]


def test_pages_of_a_board_that_came_back_are_fed_again(tmp_path: Path) -> None:
    """What is played after the accident is on the page, and the teacher's orders arrive."""
    said: list[str] = []
    with _started(tmp_path, said) as (board, port):
        _kill(board)
        asyncio.run(_look(board, port))
        commands: list[Command] = []
        _wait_until("the order comes", lambda: Arm(armed=False) in _asked(board, commands))


async def _look(board: BoardProcess, port: int) -> None:
    room = Room(port, board._feed, board._commands, None, None)  # type: ignore[arg-type]
    async with room.page() as page:
        await page.until("now")
        board.came(time.monotonic())
        assert board.show(encode(sound(1.0, 321.0)))
        while (now := await page.until("now"))["cents"] is None:
            pass
        assert now["cents"] == pytest.approx(321.0, abs=0.06)
        await page.say({"is": "do", "what": "arm", "on": False})


def test_ctrl_c_and_a_closed_terminal_are_for_the_engine_alone(tmp_path: Path) -> None:
    """A whole terminal is told to stop at once: it is the engine that then ends the board."""
    said: list[str] = []
    with _started(tmp_path, said) as (board, port):
        first = board.pid
        _kill(board, signal.SIGINT)
        _kill(board, signal.SIGHUP)
        _kill(board, signal.SIGQUIT)
        _kill(board, signal.SIGTSTP)
        assert _served(port)
        board.poll_commands()
        assert board.pid == first
    assert said == []
    _wait_until("it ends", lambda: not _lives(first))


def test_a_board_that_does_not_read_holds_nobody_up(tmp_path: Path) -> None:
    """Stopped in its tracks it loses records, is replaced once it has missed too many, and serves again."""
    said: list[str] = []
    with _started(tmp_path, said) as (board, port):
        first = board.pid
        _kill(board, signal.SIGSTOP)
        taken = [board.show(encode(sound(1.0, 300.0))) for _ in range(20_000)]
        assert taken[0]
        assert not taken[-1]
        assert 0 < board.lost <= 20_000 - 8192
        _wait_until("it is replaced", lambda: board.pid != first)
        assert _served(port)
        _wait_until("it hears again", lambda: board.show(encode(sound(2.0, 300.0))))
    assert not _lives(first)


def test_closing_ends_it_and_frees_the_port(tmp_path: Path) -> None:
    """However often; also one that was never started, and one that is stopped in its tracks."""
    with _started(tmp_path, []) as (board, port):
        pid = board.pid
        _kill(board, signal.SIGSTOP)
        board.close(patience_s=0.3)
        board.close()
        assert not _lives(pid)
        socket.create_server(("127.0.0.1", port)).close()
    listener = socket.create_server(("127.0.0.1", 0))
    never = BoardProcess(setup(tmp_path / "page"), [listener], pytest.fail)
    never.close()
    assert listener.fileno() == -1
