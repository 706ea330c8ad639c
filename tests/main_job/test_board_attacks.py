"""``reedwire board`` as it is started, under attack: what is asked by strangers, by far too many, and by accidents.

The single checks are tried one by one in ``tests/web``. Sources: OWASP (DNS rebinding, cross-site WebSocket hijacking),
RFC 6455; signals and process states, POSIX and proc(5).
"""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
from pathlib import Path

import pytest

from main_job.board_run import BoardRun, board_run, long_sound, look_on
from main_job.command import reedwire
from main_job.live import wait_until
from soak.memory import held_mb

READERS, SILENT, FLOODS = 40, 20, 2
#: How far behind the one that is ahead a page may be, in seconds of the stream: far less than what a queue would hold.
TOGETHER_S = 2.0


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rehearsals on a C harp."""
    return long_sound(tmp_path_factory.mktemp("sound"))


def _get(host: str, port: int, **headers: str) -> tuple[int, bytes]:
    line = http.client.HTTPConnection(host, port, timeout=30)
    try:
        line.request("GET", "/", headers=headers)
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


def _gone(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0] == "Z"
    except FileNotFoundError:
        return True


def test_a_crowd_that_floods_and_never_reads_harms_nobody(sound: Path, tmp_path: Path) -> None:
    """Sixty pages of which twenty never read, and two that say 10,000 things a second.

    The forty others stay together at the present moment, the board's memory stays as it was, and neither a record nor
    a note of the playing is lost.
    """
    with board_run(tmp_path, "--file", str(sound), "--harp", "C", "--midi", "none") as board:
        look_on(board.port, 2.0, READERS)
        before_mb = held_mb(board.pid())
        seen = look_on(board.port, 12.0, READERS, SILENT, FLOODS)
        assert held_mb(board.pid()) - before_mb < 20.0
        assert [reader["closed"] for reader in seen] == [None] * READERS
        assert all(reader["pictures"] > 20 for reader in seen)
        newest_s = max(reader["at"] for reader in seen)
        assert min(reader["at"] for reader in seen) > newest_s - TOGETHER_S
        board.process.send_signal(signal.SIGINT)
        board.process.wait(60.0)
    assert board.process.returncode == 0
    assert re.search(r"\d+ notes in", board.out)
    for accident in ("Traceback", "Error", "lost"):
        assert accident not in board.err


def test_a_stranger_gets_nothing_on_the_loopback(sound: Path, tmp_path: Path) -> None:
    """Another name, another origin; and the address that is printed is the one that works."""
    with board_run(tmp_path, "--file", str(sound)) as board:
        wait_until("the address is printed", lambda: f"Board: http://127.0.0.1:{board.port}/" in board.out)
        assert _get("127.0.0.1", board.port)[0] == 200
        assert _get("127.0.0.1", board.port, Host="board.example")[0] == 421
        assert _get("127.0.0.1", board.port, Origin="http://page.example")[0] == 403
        # Nobody listens but on the loopback: any other address of 127/8 is refused already.
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.2", board.port), 5.0).close()


def test_with_lan_only_who_holds_a_token_watches(sound: Path, tmp_path: Path) -> None:
    """The two addresses that are printed differ, and neither token is in anything else that was said or logged."""
    with board_run(tmp_path, "--file", str(sound), "--lan", "--set", "web.lan_address=127.0.0.2") as board:
        wait_until("both are printed", lambda: board.out.count("?token=") == 2)
        teacher, viewer = re.findall(r"http://(\S+)/\?token=(\S+)", board.out)
        assert teacher[0] == f"127.0.0.1:{board.port}"
        assert viewer[0] == f"127.0.0.2:{board.port}"
        assert teacher[1] != viewer[1]
        assert _get("127.0.0.2", board.port)[0] == 200
        # A page without a token is told nothing: the crowd has none.
        (seen,) = look_on(board.port, 1.0, 1)
        assert (seen["pictures"], seen["closed"]) == (0, 4001)
    logs = [path for path in Path(os.environ["XDG_STATE_HOME"]).rglob("*") if path.is_file()]
    for text in (board.err, *(path.read_text(encoding="utf-8") for path in logs)):
        assert teacher[1] not in text
        assert viewer[1] not in text


def test_a_port_that_is_taken_is_told_plainly(sound: Path, tmp_path: Path) -> None:
    """One line, what to type, status 2, and nothing has begun."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        said = reedwire("board", "--file", sound, "--port", str(port), "--no-browser", cwd=tmp_path)
    assert said.status == 2
    assert said.complaints == [
        (
            f"Port {port} of 127.0.0.1 is taken, by another board perhaps. End that one, or choose another port: "
            f"--port {port + 1}"
        )
    ]
    assert said.out == ""


def test_the_playing_goes_on_when_the_board_is_killed(sound: Path, tmp_path: Path) -> None:
    """It is back at the same port, told in one line, and the notes are those that they are without it."""
    played = reedwire("play", "--input", sound, "--harp", "C", "--midi", "none", "--seconds", "12", cwd=tmp_path)
    words = ("--file", str(sound), "--harp", "C", "--preset", "default", "--seconds", "12", "--set", "web.wait_s=0")
    with board_run(tmp_path / "board", *words) as board:
        for _ in range(2):
            first = board.pid()
            os.kill(first, signal.SIGKILL)
            wait_until("another one serves", lambda first=first: board.pid() not in {0, first})  # type: ignore[misc]
            board.wait_until_served()
        board.process.wait(100.0)
    assert board.process.returncode == 0
    assert board.out.splitlines()[-1] == played.out.splitlines()[-2]
    assert _note_lines(board.out) == _note_lines(played.out)
    assert board.out.count("The board stopped. The playing goes on") >= 1
    assert "Traceback" not in board.err


def _note_lines(text: str) -> list[str]:
    return [line for line in text.splitlines() if re.match(r" +\d+\.\d+ s ", line)]


def test_the_board_ends_with_the_playing_however_that_ends(sound: Path, tmp_path: Path) -> None:
    """With SIGTERM in good order; with SIGKILL, which nobody can tell of, because its parent is gone."""
    for number in (signal.SIGTERM, signal.SIGKILL):
        with board_run(tmp_path / number.name, "--file", str(sound)) as board:
            pid = board.pid()
            board.process.send_signal(number)
            board.process.wait(60.0)
            wait_until("the board has ended", lambda pid=pid: _gone(pid))  # type: ignore[misc]
            assert not _listens(board)


def _listens(board: BoardRun) -> bool:
    with socket.socket() as asking:
        return asking.connect_ex(("127.0.0.1", board.port)) == 0
