"""Pages that break off without a word, as a telephone does that changes its network."""

from __future__ import annotations

import asyncio
import logging
import socket
import struct
import time

import pytest
from aiohttp import web

from web.board_room import PATIENCE_S, TOKENS, Room


def _ask_and_reset(board: Room, token: str) -> None:
    """Ask for the WebSocket and reset the connection at once (SO_LINGER of 0 s: RFC 9293, section 3.10.5, abort)."""
    with socket.create_connection(("127.0.0.1", board.port), timeout=30) as line:
        line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        line.sendall(
            f"GET /watch?token={token} HTTP/1.1\r\nHost: {board.host}\r\nOrigin: http://{board.host}\r\n"
            "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n"
            "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n".encode()
        )


def _break_off(request: web.Request) -> None:
    """End the connection, unless the reset of its other side was quicker."""
    if request.transport is not None:
        request.transport.abort()


@pytest.mark.parametrize("token", ["wrong", TOKENS.viewer])
@pytest.mark.parametrize("moment", ["long before", "before the answer", "after the answer", "whenever it comes"])
def test_a_connection_that_is_reset_leaves_the_terminal_quiet(
    open_board: Room, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch, token: str, moment: str
) -> None:
    """Nothing is logged whenever it breaks, and no page stays behind."""
    prepare, asked = web.WebSocketResponse.prepare, []

    async def broken(page: web.WebSocketResponse, request: web.Request) -> object:
        """The handshake, with the connection gone before or after it, as the event loop does on a reset."""
        asked.append(request)
        if moment in ("before the answer", "long before"):
            _break_off(request)
        if moment == "long before":
            await asyncio.sleep(0.01)
            assert request.transport is None
        writer = await prepare(page, request)
        if moment == "after the answer":
            _break_off(request)
        return writer

    monkeypatch.setattr(web.WebSocketResponse, "prepare", broken)
    with caplog.at_level(logging.WARNING):
        for _ in range(20):
            _ask_and_reset(open_board, token)
        until = time.monotonic() + PATIENCE_S
        while (len(asked) < 5 or open_board.server.hub.clients) and time.monotonic() < until:
            time.sleep(0.02)
    assert len(asked) >= 5
    assert not open_board.server.hub.clients
    assert not caplog.records, caplog.text
