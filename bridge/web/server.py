"""The board's server: the page's own files, the WebSocket behind every check, and nothing else."""

from __future__ import annotations

import asyncio
import socket
import time
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress

from aiohttp import WSCloseCode, WSMsgType, web

from bridge.base.handoff import HandOff
from bridge.web.client import Client
from bridge.web.guard import Guard, safe_headers
from bridge.web.hub import Hub
from bridge.web.messages import MOST_BYTES, MessageError, read_message
from bridge.web.page_files import INDEX, page_files
from bridge.web.setup import BoardSetup

#: Why a page is sent away, as the code that its WebSocket is closed with (4000 to 4999 are for private use: RFC 6455,
#: section 7.4.2).
NO_TOKEN, FULL, NOT_ALLOWED, TOO_MANY = 4001, 4002, 4003, 4005
#: How often what came is looked at, in seconds, with pages there and without.
_TICK_S, _EMPTY_S = 0.004, 0.05
#: A connection that asks for nothing within this is closed, in seconds, and so many beyond the pages are held at all.
_ASKING_S = 10.0
_MORE_CONNECTIONS = 64
#: A page that is sent away has so long to say goodbye, in seconds.
_GOODBYE_S = 1.0

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


def serve(
    feed: HandOff,
    commands: HandOff,
    listeners: Sequence[socket.socket],
    setup: BoardSetup,
    alive: Callable[[], bool] = lambda: True,
) -> None:
    """Be the board's server on sockets that listen already, until the feed has ended or ``alive`` no longer holds.

    ``feed`` brings records, each behind the stamp of its sound; commands go into ``commands``. Raises UserError when
    there is no page.
    """
    server = BoardServer(feed, commands, setup)
    asyncio.run(server.run(listeners, alive))


class BoardServer:
    """The server of one board; ``hub`` is what its pages look at."""

    def __init__(self, feed: HandOff, commands: HandOff, setup: BoardSetup) -> None:
        self.hub = Hub(setup, feed, commands, time.monotonic)
        self._feed = feed
        self._setup = setup
        self._guard = Guard(setup.settings.port, setup.names, setup.tokens)
        self._files = page_files(setup.page)
        self._sockets: dict[Client, tuple[web.WebSocketResponse, web.Request]] = {}
        #: Connections that have not asked for anything yet.
        self._idle: set[asyncio.BaseProtocol] = set()

    async def run(self, listeners: Sequence[socket.socket], alive: Callable[[], bool] = lambda: True) -> None:
        """Serve until the feed has ended or ``alive`` no longer holds."""
        app = web.Application(middlewares=[self._check], client_max_size=MOST_BYTES)
        app.router.add_get("/", self._index, allow_head=True)
        app.router.add_get("/page/{name}", self._file, allow_head=True)
        app.router.add_get("/watch", self._watch, allow_head=False)
        # No log of requests: their addresses hold tokens.
        runner = web.AppRunner(app, access_log=None, keepalive_timeout=_ASKING_S, shutdown_timeout=_GOODBYE_S)
        await runner.setup()
        server = runner.server
        if server is None:
            raise RuntimeError("a runner that is set up has a server")
        loop = asyncio.get_running_loop()
        doors = [await loop.create_server(lambda: self._door(server), sock=listener) for listener in listeners]
        try:
            while not self._feed.ended and alive():
                await self._tick()
        finally:
            for door in doors:
                door.close()
            await self._say_goodbye()
            await runner.cleanup()

    async def _tick(self) -> None:
        """Hear what came, wake the senders, and let go of pages that do not read."""
        more = self.hub.hear()
        for client in self.hub.wake():
            self._drop(client)
        await asyncio.sleep(0.0 if more else _TICK_S if self.hub.clients else _EMPTY_S)

    def _door(self, server: web.Server) -> asyncio.BaseProtocol:
        """The protocol of a new connection; none when there are too many, and not for long if it asks for nothing."""
        if len(server.connections) >= self._setup.settings.most_viewers + _MORE_CONNECTIONS:
            return _Shut()
        protocol = server()
        self._idle.add(protocol)
        asyncio.get_running_loop().call_later(_ASKING_S, self._close_if_idle, protocol)
        return protocol

    def _close_if_idle(self, protocol: web.RequestHandler) -> None:
        if protocol in self._idle:
            self._idle.discard(protocol)
            if protocol.transport is not None:
                protocol.transport.abort()

    @web.middleware
    async def _check(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Host and Origin of every request, and the policy on every answer."""
        self._idle.discard(request.protocol)
        host = request.headers.get("Host")
        if len(request.headers.getall("Host", ())) != 1 or not self._guard.host_allowed(host):
            # 421: not for this server (RFC 9110, section 15.5.20). The wrong name is not repeated.
            return web.Response(status=421, text="This is not the board that was asked for.\n", headers=_PLAIN)
        headers = safe_headers(str(host))
        origin = request.headers.get("Origin")
        # A page elsewhere has no business here; a browser that opens ours sends none.
        if origin is not None and not self._guard.origin_allowed(origin, host):
            return web.Response(status=403, text="Only the board's own page may ask.\n", headers=headers)
        try:
            response = await handler(request)
        except web.HTTPException as refused:
            response = web.Response(status=refused.status, text=f"{refused.reason}\n")
        if not response.prepared:
            response.headers.update(headers)
        return response

    async def _index(self, _request: web.Request) -> web.Response:
        return self._answer(INDEX)

    async def _file(self, request: web.Request) -> web.Response:
        return self._answer(request.match_info["name"])

    def _answer(self, name: str) -> web.Response:
        """A file of the page. Names are looked up among those read at the start: no path is ever made of one."""
        if name not in self._files:
            raise web.HTTPNotFound
        body, kind = self._files[name]
        return web.Response(body=body, content_type=kind, charset="utf-8")

    async def _watch(self, request: web.Request) -> web.StreamResponse:
        """A page's WebSocket, from its first to its last message."""
        # A browser always says where a WebSocket comes from; who does not, is none (RFC 6455, section 10.2).
        if not self._guard.origin_allowed(request.headers.get("Origin"), request.headers.get("Host")):
            return web.Response(status=403, text="Only the board's own page may watch.\n")
        # The library refuses what is as long as its limit already.
        page = web.WebSocketResponse(timeout=_GOODBYE_S, autoping=False, compress=False, max_msg_size=MOST_BYTES + 1)
        page.headers["Server"] = "reedwire"
        # A page may be gone at any moment; that is no trouble of anybody's.
        try:
            await page.prepare(request)
        except ConnectionError:
            return web.Response()
        with suppress(ConnectionError):
            await self._attend(page, request)
        if request.transport is not None:
            request.transport.abort()
        return page

    async def _attend(self, page: web.WebSocketResponse, request: web.Request) -> None:
        """Let a page in, if it may, and be there for it until it goes. Raises ConnectionError where it breaks off."""
        role = self._guard.role(request.query.get("token"))
        if role is None:
            await page.close(code=NO_TOKEN, message=b"no token of this board")
        elif not self.hub.room_for(role):
            await page.close(code=FULL, message=b"no room: too many pages are open")
        else:
            client = self.hub.add(role)
            self._sockets[client] = page, request
            sender = asyncio.create_task(self._send(client, page))
            try:
                await self._listen(client, page)
            finally:
                self.hub.remove(client)
                del self._sockets[client]
                sender.cancel()
                with suppress(asyncio.CancelledError, ConnectionError):
                    await sender

    async def _send(self, client: Client, page: web.WebSocketResponse) -> None:
        """Send what the page may have, whenever it may."""
        while not page.closed:
            await client.wake.wait()
            client.wake.clear()
            for text in self.hub.picture(client):
                await page.send_str(text)

    async def _listen(self, client: Client, page: web.WebSocketResponse) -> None:
        """Take what the page says until it goes or says what it may not."""
        async for message in page:
            if not client.may_send(time.monotonic()):
                await page.close(code=TOO_MANY, message=b"too many messages")
            elif message.type is WSMsgType.PING:
                await page.pong(message.data)
            elif message.type is not WSMsgType.PONG and not self._understood(client, message.type, message.data):
                await page.close(code=NOT_ALLOWED, message=b"not allowed")

    def _understood(self, client: Client, kind: WSMsgType, data: object) -> bool:
        """Obey a message; False for what is none, or not this page's to say."""
        if kind is not WSMsgType.TEXT or not isinstance(data, str):
            return False
        try:
            return self.hub.obey(client, read_message(data))
        except MessageError:
            return False

    def _drop(self, client: Client) -> None:
        """Let go of a page that does not read, without waiting for it to read the goodbye."""
        _, request = self._sockets[client]
        if request.transport is not None:
            request.transport.abort()

    async def _say_goodbye(self) -> None:
        """The performance is over: tell all pages, and wait for none of them long."""
        goodbyes = [
            page.close(code=WSCloseCode.GOING_AWAY, message=b"the performance is over")
            for page, _ in self._sockets.values()
        ]
        await asyncio.gather(*goodbyes, return_exceptions=True)


class _Shut(asyncio.Protocol):
    """A door that is closed."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Close it at once."""
        if isinstance(transport, asyncio.Transport):
            transport.abort()


_PLAIN = {"X-Content-Type-Options": "nosniff", "Server": "reedwire"}
