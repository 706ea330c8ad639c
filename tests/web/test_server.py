"""What the board's server gives and refuses, asked over real sockets of the loopback.

Sources: RFC 9110 (Host, 421), RFC 6455 (handshake), OWASP's Testing Guide (path traversal, 4.5.1).
"""

from __future__ import annotations

import asyncio
import http.client
import socket
from pathlib import Path

import aiohttp
import pytest

from bridge.base.errors import UserError
from bridge.web.page_files import page_files
from web.board_room import Room, room, setup


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


def test_a_slow_handshake_does_not_keep_others_out(board: Room) -> None:
    """Connections that ask for nothing are held up to a number, and the page is served beside them."""
    idle = [socket.create_connection(("127.0.0.1", board.port)) for _ in range(60)]
    try:
        assert _get(board, "/")[0] == 200
    finally:
        for line in idle:
            line.close()
