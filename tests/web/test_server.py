"""What the board's server gives and refuses, asked over real sockets of the loopback.

Sources: RFC 9110 (Host, 421), RFC 6455 (handshake, close codes), OWASP's Testing Guide (path traversal, 4.5.1).
"""

from __future__ import annotations

import asyncio
import http.client
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import aiohttp
import pytest

from bridge.base.commands import Arm, ChangeHarp, Panic, Quiet
from bridge.base.errors import UserError
from bridge.web.page_files import page_files
from soak.memory import held_mb
from web.board_room import TOKENS, Room, note, room, setup, silence, sound, status


@pytest.fixture
def board(tmp_path: Path) -> Iterator[Room]:
    """A board for this machine alone."""
    with room(tmp_path) as served:
        yield served


@pytest.fixture
def open_board(tmp_path: Path) -> Iterator[Room]:
    """A board with tokens, as with --lan."""
    with room(tmp_path, tokens=TOKENS) as served:
        yield served


def _get(board: Room, path: str, method: str = "GET", **headers: str) -> tuple[int, bytes, dict[str, str]]:
    """Status, body and headers; the path goes out as it stands, which a browser would not do."""
    line = http.client.HTTPConnection("127.0.0.1", board.port, timeout=30)
    try:
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in ({"Host": board.host} | headers).items():
            line.putheader(name, value)
        line.endheaders()
        answer = line.getresponse()
        return answer.status, answer.read(), {name.lower(): value for name, value in answer.getheaders()}
    finally:
        line.close()


def test_the_page_and_its_files_are_served_with_the_policy(board: Room) -> None:
    """Each with its kind, and every answer with what forbids the rest, refusals included."""
    for path, kind in (("/", "text/html"), ("/page/main.js", "text/javascript"), ("/page/index.html", "text/html")):
        code, body, headers = _get(board, path)
        assert (code, headers["content-type"]) == (200, f"{kind}; charset=utf-8")
        assert body
    for path in ("/", "/page/main.js", "/nothing"):
        headers = _get(board, path)[2]
        assert headers["content-security-policy"].startswith("default-src 'none'; script-src 'self'")
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert "aiohttp" not in headers["server"].lower()
        assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "[::1]:{port}", ""]
)
def test_another_host_gets_nothing(board: Room, host: str) -> None:
    """As a page elsewhere would ask whose name was made to lead here (DNS rebinding)."""
    for path in ("/", "/page/main.js", "/watch", "/nothing"):
        code, body, _ = _get(board, path, Host=host.format(port=board.port))
        assert code in {400, 421}
        assert b"<!doctype" not in body
        assert b"evil" not in body


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:{port}", "http://a:1", ""])
def test_another_origin_gets_nothing(board: Room, origin: str) -> None:
    """Neither a file nor the WebSocket, to which browsers let any page connect."""
    for path in ("/", "/page/main.js", "/nothing"):
        assert _get(board, path, Origin=origin.format(port=board.port))[0] == 403
    assert asyncio.run(_refused(board, Origin=origin.format(port=board.port))) == 403


def test_a_websocket_without_origin_is_refused(board: Room) -> None:
    """No browser leaves it out."""
    wanted = {"Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13"}
    assert _get(board, "/watch", **wanted, **{"Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ=="})[0] == 403


def test_a_websocket_under_another_name_is_refused(board: Room) -> None:
    """Even where Origin and Host agree."""
    assert asyncio.run(_refused(board, Host="evil.example", Origin="http://evil.example")) == 421


async def _refused(board: Room, **headers: str) -> int:
    with pytest.raises(aiohttp.WSServerHandshakeError) as refused:
        async with board.page(**headers):
            pass
    return refused.value.status


@pytest.mark.parametrize(
    "path",
    [
        *("/page/../secret.js", "/page/..%2fsecret.js", "/page/%2e%2e/secret.js", "/page/%2e%2e%2fsecret.js"),
        *("/page/..%5csecret.js", "/page/%252e%252e%252fsecret.js", "/page//etc/passwd", "/page/%2fetc%2fpasswd"),
        *(
            "/page/....//secret.js",
            "/page/main.js%00.html",
            "/page/notes.txt",
            "/page/",
            "/page",
            "/page/.",
            "/page/..",
        ),
        *("/page/%c0%ae%c0%ae/secret.js", "/page/linked.js", "//etc/passwd", "/../../etc/passwd", "/page/main.js/"),
        *("/index.html", "/page/INDEX.HTML", "/.git/config", "/page/main.js/../../secret.js", "/server.py"),
    ],
)
def test_nothing_of_the_file_system_is_reached(tmp_path: Path, path: str) -> None:
    """No way around the list of files, encoded once, twice or wrongly; nor a link that lies in the page's folder."""
    board = setup(tmp_path / "page")
    (board.page / "linked.js").symlink_to(tmp_path / "secret.js")
    with room(tmp_path) as served:
        code, body, _ = _get(served, path)
        assert code in {400, 404}
        for secret in (b"a secret", b"root:", b"not of the page", str(tmp_path).encode()):
            assert secret not in body


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "TRACE", "PATCH", "PROPFIND"])
def test_nothing_can_be_sent_but_through_the_websocket(board: Room, method: str) -> None:
    """No other method does anything."""
    assert _get(board, "/", method)[0] == 405
    assert _get(board, "/watch", method)[0] == 405


def test_a_page_without_a_file_is_told(tmp_path: Path) -> None:
    """An installation that lacks the page says so at once."""
    with pytest.raises(UserError, match="page is missing"):
        page_files(tmp_path / "nowhere")


def test_without_a_token_nobody_watches(open_board: Room) -> None:
    """Each is let in and sent away with a code that the page can tell; nothing is told before."""

    async def look() -> None:
        for token in (None, "", "wrong", TOKENS.viewer[:-1], TOKENS.teacher + "x"):
            async with open_board.page(token) as page:
                message = await page.line.receive()
                assert (message.type, page.line.close_code) == (aiohttp.WSMsgType.CLOSE, 4001)

    asyncio.run(look())
    assert not open_board.server.hub.clients


def test_a_viewer_watches_and_cannot_steer(open_board: Room) -> None:
    """Whatever a viewer wants done closes the page, and the engine is asked for nothing."""
    wants = (
        {"what": "arm", "on": False},
        {"what": "harp", "harp": "A"},
        {"what": "panic"},
        {"what": "quiet", "on": True},
    )

    async def look() -> None:
        for want in (*wants, {"what": "share", "view": {}}):
            async with open_board.page(TOKENS.viewer) as page:
                assert (await page.next())["role"] == "viewer"
                await page.say({"is": "do", **want})
                assert await page.closed() == 4003
        async with open_board.page(TOKENS.viewer) as page:
            await page.say({"is": "ask", "what": "delays"})
            assert await page.closed() == 4003

    asyncio.run(look())
    assert open_board.asked() == []
    assert not open_board.server.hub.state.view


def test_the_teacher_steers_and_shares(open_board: Room) -> None:
    """What the teacher wants reaches the engine in order, and what is shared reaches those who watch."""

    async def look() -> None:
        async with open_board.page(TOKENS.teacher) as teacher, open_board.page(TOKENS.viewer) as viewer:
            assert (await teacher.next())["role"] == "teacher"
            for want in ({"what": "arm", "on": False}, {"what": "harp", "harp": "A"}, {"what": "panic"}):
                await teacher.say({"is": "do", **want})
            await teacher.say({"is": "do", "what": "share", "view": {"held": True}})
            assert (await viewer.until("shared"))["view"] == {"held": True}
            assert (await viewer.until("now"))["held"] is True

    asyncio.run(look())
    assert open_board.asked() == [Arm(armed=False), ChangeHarp("A"), Panic()]


def test_the_microphone_does_not_stay_paused_when_the_page_goes(board: Room) -> None:
    """A model that sounded in a page that was closed sounds no more."""

    async def look() -> None:
        async with board.page() as page:
            await page.say({"is": "do", "what": "quiet", "on": True})
            while not (await page.until("now"))["quiet"]:
                pass

    asyncio.run(look())
    assert [board.wait_for_command(), board.wait_for_command()] == [Quiet(sounding=True), Quiet(sounding=False)]


def test_what_is_played_is_told_in_order(board: Room) -> None:
    """hello, then the moments; the ended note and the phrase once each."""

    async def look() -> None:
        async with board.page() as page:
            assert (await page.next())["contract"] == 1
            board.tell(status(), *note(1, 1.0, 1.5, 354.0))
            assert (await page.until("ended"))["note"]["settle"] == pytest.approx(354.0, abs=0.1)
            board.tell(silence(1.6), silence(2.7))
            assert (await page.until("phrase"))["notes"][0]["id"] == 1

    asyncio.run(look())


def test_the_page_is_told_that_it_is_over(tmp_path: Path) -> None:
    """1001, going away (RFC 6455, 7.4.1): the page need not try again."""

    async def look(board: Room) -> int:
        async with board.page() as page:
            await page.until("now")
            board.feed.end()
            return await page.closed()

    with room(tmp_path) as board:
        assert asyncio.run(look(board)) == 1001


@pytest.mark.parametrize(
    ("message", "code"),
    [
        (b"\x00" * 10, 4003),
        ("x", 4003),
        ('{"is":"seen","n":7777}', 4003),
        ("[" * 4096, 4003),
        ("x" * 5000, 1009),
        ("x" * 2**20, 1009),
        (b"\x00" * 2**20, 1009),
    ],
)
def test_what_is_no_message_closes_the_page(board: Room, message: str | bytes, code: int) -> None:
    """Malformed, for a picture never sent, or too long, a megabyte included: and another page goes on."""

    async def look() -> None:
        async with board.page() as other, board.page() as page:
            await (page.line.send_str(message) if isinstance(message, str) else page.line.send_bytes(message))
            assert await page.closed() == code
            board.tell(sound(1.0, 300.0))
            while (await other.until("now"))["cents"] is None:
                pass

    asyncio.run(look())


def test_a_slow_handshake_does_not_keep_others_out(board: Room) -> None:
    """Connections that ask for nothing are held up to a number, and the page is served beside them."""
    idle = [socket.create_connection(("127.0.0.1", board.port)) for _ in range(60)]
    try:
        assert _get(board, "/")[0] == 200
    finally:
        for line in idle:
            line.close()


def test_a_flood_of_messages_is_stopped_without_growing(board: Room) -> None:
    """Ten thousand messages and as many pings, as fast as they go: sent away, memory as it was, others go on."""

    async def flood(kind: str) -> int:
        async with board.page() as other, board.page() as page:
            try:
                for _ in range(10_000):
                    await (page.line.ping(b"x" * 100) if kind == "ping" else page.say({"is": "ask", "what": "delays"}))
            except (ConnectionError, aiohttp.ClientConnectionError):
                pass
            code = await page.closed()
            await other.until("now")
            return code

    asyncio.run(flood("text"))
    before_mb = held_mb(os.getpid())
    # The goodbye may be lost in what the flood left unread: TCP resets a connection closed with unread data (RFC 2525).
    for kind in ("text", "ping", "text", "ping"):
        assert asyncio.run(flood(kind)) in {4005, 1006}
    assert held_mb(os.getpid()) - before_mb < 20.0
    assert board.asked() == []


def test_more_pages_than_there_is_room_for_are_told_so(tmp_path: Path) -> None:
    """The first ones go on, the next is sent away with a word, and the teacher still finds room."""

    async def look(board: Room) -> None:
        async with board.page(TOKENS.viewer) as one, board.page(TOKENS.viewer) as two:
            await two.until("now")
            async with board.page(TOKENS.viewer) as third:
                assert await third.closed() == 4002
            async with board.page(TOKENS.teacher) as teacher:
                assert (await teacher.next())["role"] == "teacher"
            board.tell(sound(1.0, 300.0))
            for page in (one, two):
                while (await page.until("now"))["cents"] is None:
                    pass

    with room(tmp_path, tokens=TOKENS, most_viewers=2) as board:
        asyncio.run(look(board))
