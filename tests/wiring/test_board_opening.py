"""Where the board is found: ports, addresses, tokens and the browser."""

from __future__ import annotations

import socket
import threading
import webbrowser

import pytest

from bridge.base.errors import UserError
from bridge.wiring.board_opening import open_board
from bridge.wiring.settings import load_settings
from main_job.board_run import free_tcp_port


def test_a_port_that_is_taken_is_told_plainly() -> None:
    """Before anything begins, with what to type."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
        settings = load_settings(flags={"web.port": port})
        with pytest.raises(UserError, match=f"Port {port} of 127.0.0.1 is taken.*--port"):
            open_board(settings, lan=False, browser=False)


def test_only_with_lan_there_are_tokens_and_an_address_for_others() -> None:
    """On the loopback alone without; with it each has an address of his own, and every start other tokens."""
    free = free_tcp_port()
    settings = load_settings(flags={"web.port": free, "web.lan_address": "127.0.0.1"})
    alone = open_board(settings, lan=False, browser=False)
    alone.close()
    assert alone.addresses() == [f"Board: http://127.0.0.1:{free}/"]
    assert [listener.family for listener in alone.listeners] == [socket.AF_INET]
    assert alone.setup.tokens is None
    with pytest.raises(UserError, match="taken"):
        # Its own loopback is no other address.
        open_board(settings, lan=True, browser=False)
    other = load_settings(flags={"web.port": free, "web.lan_address": "127.0.0.2"})
    seen = set()
    for _ in range(2):
        board = open_board(other, lan=True, browser=False)
        board.close()
        tokens = board.setup.tokens
        assert tokens is not None
        assert tokens.teacher != tokens.viewer
        assert len(tokens.teacher) >= 20
        teacher, viewer = board.addresses()
        assert teacher.endswith(f"http://127.0.0.1:{free}/?token={tokens.teacher}")
        assert viewer.endswith(f"http://127.0.0.2:{free}/?token={tokens.viewer}")
        seen |= {tokens.teacher, tokens.viewer}
    assert len(seen) == 4


def test_an_address_that_the_machine_does_not_have_is_told() -> None:
    """192.0.2.1 belongs to nobody (TEST-NET-1, RFC 5737)."""
    settings = load_settings(flags={"web.port": free_tcp_port(), "web.lan_address": "192.0.2.1"})
    with pytest.raises(UserError, match=r"192\.0\.2\.1 is no address of this machine"):
        open_board(settings, lan=True, browser=False)
    open_board(settings, lan=False, browser=False).close()


def test_the_browser_shows_the_teachers_address_where_there_is_a_screen(monkeypatch: pytest.MonkeyPatch) -> None:
    """In the background; not without a screen, where a browser would take the terminal, nor when told not to."""
    opened: list[str] = []
    shown = threading.Event()

    def show(address: str) -> bool:
        opened.append(address)
        shown.set()
        return True

    monkeypatch.setattr(webbrowser, "open", show)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    settings = load_settings(flags={"web.port": free_tcp_port(), "web.lan_address": "127.0.0.2"})
    for display, wanted in ((None, True), (":0", False), (":0", True)):
        if display is None:
            monkeypatch.delenv("DISPLAY", raising=False)
        else:
            monkeypatch.setenv("DISPLAY", display)
        board = open_board(settings, lan=True, browser=wanted)
        board.open_browser()
        board.close()
    assert shown.wait(60.0)
    assert board.setup.tokens is not None
    assert opened == [f"http://127.0.0.1:{settings.web.port}/?token={board.setup.tokens.teacher}"]
