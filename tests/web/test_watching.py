"""Pages that watch, over real sockets of the loopback: who may say what, and what becomes of those who say too much.

Sources: RFC 6455 (close codes), OWASP's WebSocket Security Cheat Sheet (roles, sizes, rates).
"""

from __future__ import annotations

import asyncio
import os
from pathlib import Path

import aiohttp
import pytest

from bridge.base.commands import Arm, ChangeHarp, Panic, Quiet
from soak.memory import held_mb
from web.board_room import TOKENS, Room, note, room, silence, sound, status


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
