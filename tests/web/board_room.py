"""A board in this process: fed by the test, served from a thread, looked at by clients of another library's making."""

from __future__ import annotations

import asyncio
import json
import socket
import threading
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import aiohttp

from bridge.base.commands import Begin, Command
from bridge.base.events import Inflection, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.handoff import HandOff
from bridge.base.records import RECORD_BYTES, Record, decode_command, encode
from bridge.harp.harp import make_harp
from bridge.quantise.scales import find_scale
from bridge.quantise.third import ThirdZone
from bridge.web.guard import LOOPBACK, Tokens
from bridge.web.hub import STAMP
from bridge.web.server import BoardServer
from bridge.web.settings import WebSettings
from bridge.web.setup import BoardSetup

ZONE = ThirdZone(400.0, 300.0, 350.0, 315.0, 365.0)
TOKENS = Tokens("the-teachers-own-token", "abcdefgh")
PATIENCE_S = 60.0


def setup(page: Path, port: int = 8350, *, tokens: Tokens | None = None, **settings: Any) -> BoardSetup:  # noqa: ANN401
    """A board for a C harp in cross position, with a page of two files in ``page``, beside which lies a secret."""
    page.mkdir(parents=True, exist_ok=True)
    (page / "index.html").write_text("<!doctype html><title>board</title>", encoding="utf-8")
    (page / "main.js").write_text("export {};", encoding="utf-8")
    (page / "notes.txt").write_text("not of the page", encoding="utf-8")
    (page.parent / "secret.js").write_text("a secret", encoding="utf-8")
    return BoardSetup(
        third=ZONE,
        degrees=tuple((slot.degree, slot.anchor) for slot in find_scale("blues", {}).slots),
        harps=(make_harp("C", 2, 440.0),),
        settings=WebSettings(port=port, **settings),
        names=LOOPBACK,
        tokens=tokens,
        page=page,
    )


@dataclass
class Room:
    """A board that is served, and both ends of what it is fed by."""

    port: int
    feed: HandOff
    commands: HandOff
    server: BoardServer
    thread: threading.Thread

    @property
    def host(self) -> str:
        """What a browser would call it."""
        return f"127.0.0.1:{self.port}"

    def tell(self, *records: Record, came_s: float | None = None) -> None:
        """Feed it, as if the sound had come in at ``came_s``, by default now."""
        stamp = STAMP.pack(round((time.monotonic() if came_s is None else came_s) * 1e9))
        for record in records:
            assert self.feed.push(stamp, encode(record))

    def asked(self) -> list[Command]:
        """What it wants of the engine, but for its word that a page is seen."""
        commands = [decode_command(data) for data in self.commands.drain()]
        return [command for command in commands if command != Begin()]

    def wait_for_command(self) -> Command:
        """The next thing that it wants of the engine, but for its word that a page is seen."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            data = self.commands.pop()
            if data is not None and (command := decode_command(data)) != Begin():
                return command
            time.sleep(0.01)
        raise AssertionError("nothing was asked for")

    @asynccontextmanager
    async def page(self, token: str | None = None, **headers: str) -> AsyncIterator[Page]:
        """A page that watches, with the headers that a browser sends unless others are given."""
        query = f"?token={token}" if token is not None else ""
        sent = {"Origin": f"http://{self.host}", **headers}
        async with aiohttp.ClientSession() as session:  # noqa: SIM117 -- the one is made with the other
            async with session.ws_connect(f"http://{self.host}/watch{query}", headers=sent, max_msg_size=0) as line:
                yield Page(line)


@dataclass
class Page:
    """A page that watches."""

    line: aiohttp.ClientWebSocketResponse

    async def next(self, *, see: bool = True) -> dict[str, Any]:
        """The next message; a picture is acknowledged unless ``see`` is False."""
        message = await asyncio.wait_for(self.line.receive(), PATIENCE_S)
        assert message.type is aiohttp.WSMsgType.TEXT, (message, self.line.close_code)
        plain: dict[str, Any] = json.loads(message.data)
        if see and plain["is"] == "now":
            await self.say({"is": "seen", "n": plain["n"]})
        return plain

    async def until(self, kind: str) -> dict[str, Any]:
        """The next message of a kind."""
        while (message := await self.next())["is"] != kind:
            pass
        return message

    async def say(self, message: object) -> None:
        """Send a message."""
        await self.line.send_str(json.dumps(message))

    async def closed(self) -> int:
        """The code that it is closed with."""
        while not self.line.closed:
            message = await asyncio.wait_for(self.line.receive(), PATIENCE_S)
            if message.type is aiohttp.WSMsgType.TEXT and json.loads(message.data)["is"] == "now":
                # Whoever is sent away for what he said still looks like a good listener.
                number = json.loads(message.data)["n"]
                if not self.line.closed:
                    await self.say({"is": "seen", "n": number})
        return self.line.close_code or 0


@contextmanager
def room(folder: Path, *, tokens: Tokens | None = None, **settings: Any) -> Iterator[Room]:  # noqa: ANN401
    """A board on a free port of the loopback for as long as the ``with`` lasts."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
        feed, commands = HandOff(STAMP.size + RECORD_BYTES, 8192), HandOff(RECORD_BYTES, 64)
        server = BoardServer(feed, commands, setup(folder / "page", port, tokens=tokens, **settings))
        thread = threading.Thread(target=lambda: asyncio.run(server.run([listener])))
        thread.start()
        try:
            yield Room(port, feed, commands, server, thread)
        finally:
            feed.end()
            for _ in feed.drain():
                pass
            thread.join(PATIENCE_S)
            assert not thread.is_alive()


def sound(at_s: float, cents: float, clean: float = 1.0) -> PitchPoint:
    """A pitch over the root of the C harp, G4; 0 Hz for cents below -2000."""
    hz = 0.0 if cents < -2000.0 else 391.995 * 2.0 ** (cents / 1200.0)
    return PitchPoint(at_s, at_s + 0.003, hz, cents if hz else 0.0, -20.0 if hz else -120.0, clean)


def silence(at_s: float) -> PitchPoint:
    """Nothing."""
    return sound(at_s, -9999.0)


def inflection(note: int, at_s: float, cents: float, degree: str = "3", blueness: float = 0.0) -> Inflection:
    """The third, at ``cents`` above the root."""
    return Inflection(note, at_s, at_s, cents - 400.0, degree, blueness, 0.0, 0.5, 0.5)


def note(number: int, start_s: float, end_s: float, cents: float) -> list[Record]:
    """All records of a third held at ``cents``, 500 a second."""
    records: list[Record] = []
    steps = round((end_s - start_s) * 500.0)
    for step in range(steps):
        at_s = start_s + step / 500.0
        records.append(sound(at_s, cents))
        moved = inflection(number, at_s, cents)
        records.append(NoteOn(number, start_s, at_s, 71, 0.7, moved) if step == 0 else moved)
    return [*records, NoteOff(number, end_s, end_s)]


def status(*, armed: bool = True, harp: str = "C harp, cross position", place: int = 1, **more: Any) -> Status:  # noqa: ANN401
    """What the engine says four times a second."""
    told = {"straight": 400.0, "a4_hz": 440.0, **more}
    return Status(1.0, armed, harp, 0, place, **told)
