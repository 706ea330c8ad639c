"""A stand-in for the board's server: hands out the real page and speaks its messages as a test says, to the letter.

With it a test puts the page into any state and sees everything that the page says. What the real server does with that
is tested where the server is.
"""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from aiohttp import WSMsgType, web

from main_job.live import wait_until

PAGE = Path(__file__).resolve().parents[2] / "bridge" / "web" / "page"
#: The policy of the real server: nothing inline, nothing from elsewhere.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self' ws://{host}; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
Message = dict[str, Any]

#: A C harp in cross position, as the server tells of it: root G4 (MIDI 1.0, 4.2.1: note 67, 391.995 Hz).
SETUP: Mapping[str, Any] = {
    "harp": "C",
    "name": "C harp, cross position",
    "harps": ["C", "A"],
    "place": 1,
    "root": "G",
    "root_hz": 391.995,
    "a4_hz": 440.0,
    "position": "cross",
    "straight": 400.0,
    "minor": 300.0,
    "target": 350.0,
    "zone_low": 315.0,
    "zone_high": 365.0,
    "zones": [
        ["below minor", "rough", 240.0, 292.0],
        ["minor", "plain", 292.0, 308.0],
        ["between minor and blue", "plain", 308.0, 315.0],
        ["blue", "water", 315.0, 365.0],
        ["between blue and straight", "plain", 365.0, 392.0],
        ["straight", "firm", 392.0, 408.0],
        ["above straight", "rough", 408.0, 445.0],
    ],
    "degrees": [
        *(["1", 0.0], ["b2", 100.0], ["2", 200.0], ["3", 400.0], ["4", 500.0], ["b5", 600.0], ["5", 700.0]),
        *(["b6", 800.0], ["6", 900.0], ["b7", 1000.0], ["7", 1100.0]),
    ],
    "exercises": [
        {
            "name": "straight",
            "title": "Straight",
            "how": "Hold the third straight for three beats.",
        },
        {"name": "blue", "title": "Blue", "how": "Hold the third in the blue zone for three beats."},
    ],
}


class BoardDouble:
    """The server while the ``with`` of :func:`board_double` lasts; ``said`` is what pages have said so far."""

    def __init__(self, role: str) -> None:
        self.role = role
        self.said: list[Message] = []
        self.port = 0
        self._loop = asyncio.new_event_loop()
        self._pages: list[web.WebSocketResponse] = []
        self._number = 0

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}/"

    def send(self, *messages: Message) -> None:
        """Send each message to every page, once there is one; a ``now`` gets the next number."""
        wait_until("a page watches", lambda: bool(self._pages))
        for message in messages:
            self._number += message["is"] == "now"
            numbered = {**message, "n": self._number} if message["is"] == "now" else message
            asyncio.run_coroutine_threadsafe(self._send(json.dumps(numbered)), self._loop).result(10.0)

    def show(self, *messages: Message) -> None:
        """Send, and wait until a page has drawn the last ``now`` of them."""
        self.send(*messages)
        wait_until(f"frame {self._number} is seen", lambda: {"is": "seen", "n": self._number} in self.said)

    def asked(self, what: str) -> list[Message]:
        """What pages have asked to be done, of this kind, so far."""
        return [said for said in self.said[:] if said["is"] == "do" and said["what"] == what]

    def wait_for(self, what: str, holds: Callable[[list[Message]], bool] = bool) -> list[Message]:
        """Wait until pages have asked for this, and what they have asked."""
        wait_until(f"the page asks for {what}", lambda: bool(said := self.asked(what)) and holds(said))
        return self.asked(what)

    def cut(self, code: int = 1000) -> None:
        """Break every line, as when the server dies; ``code`` says why (RFC 6455, 7.4)."""
        asyncio.run_coroutine_threadsafe(self._cut(code), self._loop).result(10.0)

    def run(self, ready: threading.Event) -> None:
        """The server's thread."""
        self._loop.run_until_complete(self._serve(ready))
        self._loop.close()

    def end(self) -> None:
        """Let the thread end."""
        self._loop.call_soon_threadsafe(self._ending.set)

    async def _serve(self, ready: threading.Event) -> None:
        self._ending = asyncio.Event()
        app = web.Application()
        app.add_routes([web.get("/", self._page), web.get("/page/{name}", self._page), web.get("/watch", self._watch)])
        runner = web.AppRunner(app)
        await runner.setup()
        await web.TCPSite(runner, "127.0.0.1", 0).start()
        self.port = runner.addresses[0][1]
        ready.set()
        await self._ending.wait()
        await self._cut()
        await runner.cleanup()

    async def _page(self, request: web.Request) -> web.StreamResponse:
        name = request.match_info.get("name", "index.html")
        headers = {"Content-Security-Policy": POLICY.format(host=request.host), "Cache-Control": "no-store"}
        path = PAGE / name
        return web.FileResponse(path, headers=headers) if path.is_file() else web.Response(status=404)

    async def _watch(self, request: web.Request) -> web.WebSocketResponse:
        page = web.WebSocketResponse()
        await page.prepare(request)
        await page.send_json({"is": "hello", "contract": 1, "role": self.role, "setup": dict(SETUP)})
        self._pages.append(page)
        async for message in page:
            if message.type is WSMsgType.TEXT:
                self.said.append(json.loads(message.data))
        self._pages.remove(page)
        return page

    async def _send(self, text: str) -> None:
        for page in self._pages:
            await page.send_str(text)

    async def _cut(self, code: int = 1000) -> None:
        for page in self._pages[:]:
            await page.close(code=code)


@contextmanager
def board_double(role: str = "teacher") -> Iterator[BoardDouble]:
    """A stand-in server on the loopback, whose pages have ``role``."""
    double, ready = BoardDouble(role), threading.Event()
    thread = threading.Thread(target=double.run, args=(ready,))
    thread.start()
    assert ready.wait(10.0)
    try:
        yield double
    finally:
        double.end()
        thread.join()
