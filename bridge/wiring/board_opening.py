"""Where the board is found: its sockets, its addresses, and what it must know."""

from __future__ import annotations

import errno
import os
import secrets
import socket
import sys
import threading
import webbrowser
from contextlib import ExitStack
from dataclasses import dataclass

from bridge.base.errors import UserError
from bridge.quantise.scales import find_scale
from bridge.quantise.third import ThirdZone
from bridge.web.guard import LOOPBACK, Tokens
from bridge.web.page_files import page_files
from bridge.web.setup import BoardSetup
from bridge.wiring.harps import harp_set
from bridge.wiring.on_harp import quantise_on
from bridge.wiring.settings import Settings

_HOME = LOOPBACK[0]
_AUTO = "auto"
#: An address of nobody (TEST-NET-1, RFC 5737): to ask by which of our own others are reached; nothing is sent.
_NOBODY = ("192.0.2.1", 9)
#: Typed by thirty people into thirty phones, so short, and without letters that look alike; 31**8 are too many to try.
_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
_VIEWER_LETTERS = 8
_BACKLOG = 128


@dataclass(frozen=True)
class OpenBoard:
    """Sockets that listen, and the board that is to be served on them; ``browser`` asks for one to be opened."""

    setup: BoardSetup
    listeners: tuple[socket.socket, ...]
    browser: bool

    @property
    def address(self) -> str:
        """Where the teacher finds it."""
        return self._address(_HOME, None if self.setup.tokens is None else self.setup.tokens.teacher)

    def addresses(self) -> list[str]:
        """Where the board is found, a line each."""
        if self.setup.tokens is None:
            return [f"Board: {self.address}"]
        return [
            f"Board, for you, who steers it: {self.address}",
            f"Board, for the class to watch: {self._address(self.setup.names[-1], self.setup.tokens.viewer)}",
        ]

    def open_browser(self) -> None:
        """Show it in the browser of this machine, if that was asked for and there is a screen; waits for nothing."""
        if not self.browser or not _has_screen():
            return
        threading.Thread(target=webbrowser.open, args=(self.address,), daemon=True).start()

    def close(self) -> None:
        """Free the port; calling it again does nothing."""
        for listener in self.listeners:
            listener.close()

    def _address(self, host: str, token: str | None = None) -> str:
        return f"http://{host}:{self.setup.settings.port}/{'' if token is None else f'?token={token}'}"


def open_board(settings: Settings, *, lan: bool, browser: bool) -> OpenBoard:
    """Listen on this machine's loopback and, with ``lan``, on its address in the network.

    Raises UserError for a port that is taken, for a machine without a network, and where there is no page.
    """
    web = settings.web
    hosts = [_HOME, *([_lan_address(web.lan_address)] if lan else [])]
    held = harp_set(settings.harp).harps
    third = quantise_on(settings, held[0]).third
    scale = find_scale(settings.quantise.scale, settings.quantise.scales)
    setup = BoardSetup(
        third=ThirdZone(third.straight_cents, third.minor, third.target, third.zone_low, third.zone_high),
        degrees=tuple((slot.degree, slot.anchor) for slot in scale.slots),
        harps=tuple(harp.harp for harp in held),
        settings=web,
        tab=settings.harp.tab,
        names=(*LOOPBACK, *hosts[1:]),
        tokens=Tokens(secrets.token_urlsafe(16), _short_token()) if lan else None,
        study=settings.study,
        clean_least=settings.quantise.double_stops.clean_least,
    )
    page_files(setup.page)
    with ExitStack() as opened:
        listeners = tuple(opened.enter_context(_listen(host, web.port)) for host in hosts)
        opened.pop_all()
    return OpenBoard(setup, listeners, browser)


def _listen(host: str, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        # A port that was let go of a moment ago may be taken again (not one that somebody listens on).
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(_BACKLOG)
    except OSError as error:
        listener.close()
        if error.errno == errno.EADDRINUSE:
            raise UserError(
                f"Port {port} of {host} is taken, by another board perhaps. End that one, or choose another port: "
                f"--port {port + 1 if port < 65535 else port - 1}"
            ) from error
        if error.errno == errno.EADDRNOTAVAIL:
            raise UserError(
                f"{host} is no address of this machine. Give one that it has in the network: "
                "--set web.lan_address=192.168.1.5, or auto"
            ) from error
        raise UserError(f"The board cannot be served at {host}:{port} ({error.strerror or error}).") from error
    return listener


def _lan_address(wanted: str) -> str:
    """This machine's address in the network, as numbers."""
    try:
        if wanted != _AUTO:
            return str(socket.getaddrinfo(wanted, None, socket.AF_INET)[0][4][0])
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
            asking.connect(_NOBODY)
            return str(asking.getsockname()[0])
    except OSError as error:
        raise UserError(
            "--lan needs a network, and this machine has no address in one. Connect it, or say which address to use: "
            "--set web.lan_address=192.168.1.5"
        ) from error


def _short_token() -> str:
    return "".join(secrets.choice(_LETTERS) for _ in range(_VIEWER_LETTERS))


def _has_screen() -> bool:
    """Whether a browser would have a screen of its own: one in this terminal would take it from the meter."""
    return sys.platform == "darwin" or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
