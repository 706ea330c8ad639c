"""A program of the tests: a crowd of pages that look at a board.

    python board_crowd.py PORT SECONDS READERS SILENT FLOODS

``READERS`` acknowledge each picture at once, ``SILENT`` never read (and come again when they are sent away), ``FLOODS``
say 10,000 things a second, and come again. When the time is over it prints, as one line of JSON, for each reader how
many pictures it had, the stream time of the last one, the code it was closed with (null: it was not), and the board's
own count of its delays (``delays`` of ``shared/board-messages.md``).
"""

from __future__ import annotations

import asyncio
import base64
import json
import sys
import time
from contextlib import suppress
from typing import Any

import aiohttp

#: Longer than the board waits for a page that does not read.
_AGAIN_S = 6.0
_FLOOD_PER_S = 10_000.0
#: How a picture begins.
_PICTURE = '{"is":"now","n":'


async def crowd(port: int, seconds: float, readers: int, silent: int, floods: int) -> list[dict[str, Any]]:
    """Look on for so long; what each reader saw."""
    until_s = time.monotonic() + seconds
    async with aiohttp.ClientSession(connector=aiohttp.TCPConnector(limit=0)) as session:
        others = [asyncio.create_task(_stay_silent(port, until_s)) for _ in range(silent)]
        others += [asyncio.create_task(_flood(session, port, until_s)) for _ in range(floods)]
        seen = await asyncio.gather(*(_read(session, port, until_s) for _ in range(readers)))
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)
    return list(seen)


async def _read(session: aiohttp.ClientSession, port: int, until_s: float) -> dict[str, Any]:
    """One reader: a good listener until the time is over, which then asks how late its pictures were."""
    seen: dict[str, Any] = {"pictures": 0, "at": 0.0, "closed": None, "delays": None}
    asked, last = False, ""
    async with session.ws_connect(f"http://127.0.0.1:{port}/watch", origin=f"http://127.0.0.1:{port}") as line:
        async for message in line:
            last = message.data if message.data.startswith(_PICTURE) else last
            if last is message.data:
                # Not read in full: all pages of this program together are to be no slower than one of a browser.
                number = int(last[len(_PICTURE) : last.index(",", len(_PICTURE))])
                seen["pictures"] += 1
                await line.send_str(f'{{"is":"seen","n":{number}}}')
            elif (plain := json.loads(message.data))["is"] == "delays":
                return seen | {"delays": plain["page"], "at": json.loads(last)["at"]}
            if not asked and time.monotonic() >= until_s:
                asked = True
                await line.send_str('{"is":"ask","what":"delays"}')
        seen["closed"] = line.close_code
    return seen


async def _stay_silent(port: int, until_s: float) -> None:
    """Open the line and never read a byte of it."""
    wanted = (
        f"GET /watch HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nConnection: Upgrade\r\n"
        f"Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: {base64.b64encode(bytes(16)).decode()}"
        "\r\n\r\n"
    ).encode()
    loop = asyncio.get_running_loop()
    while time.monotonic() < until_s:
        transport, _ = await loop.create_connection(asyncio.Protocol, "127.0.0.1", port)
        transport.pause_reading()
        transport.write(wanted)
        try:
            await asyncio.sleep(_AGAIN_S)
        finally:
            transport.abort()


async def _flood(session: aiohttp.ClientSession, port: int, until_s: float) -> None:
    """Say far too much, over and over."""
    while time.monotonic() < until_s:
        with suppress(aiohttp.ClientError, ConnectionError):
            address = f"http://127.0.0.1:{port}"
            async with session.ws_connect(f"{address}/watch", origin=address) as line:
                began_s, said = time.monotonic(), 0
                while not line.closed and time.monotonic() < until_s:
                    while said < (time.monotonic() - began_s) * _FLOOD_PER_S:
                        said += 1
                        await line.send_str('{"is":"ask","what":"delays"}')
                    with suppress(TimeoutError):
                        await asyncio.wait_for(line.receive(), 0.002)
        await asyncio.sleep(0.05)


def main() -> None:
    """Be the program."""
    port, seconds, *sizes = int(sys.argv[1]), float(sys.argv[2]), *map(int, sys.argv[3:6])
    sys.stdout.write(json.dumps(asyncio.run(crowd(port, seconds, *sizes))) + "\n")


if __name__ == "__main__":
    main()
