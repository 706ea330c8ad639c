"""Debian's Chromium, headless, for the tests of the board's page; closed by whoever opened it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal

from playwright.sync_api import Browser, Page, sync_playwright

from parts import require

Look = Literal["dark", "light"]
#: Sound goes nowhere, and the machine's own settings of a proxy are left alone: nothing but the loopback is asked.
_ARGUMENTS = ("--no-sandbox", "--mute-audio", "--no-proxy-server", "--disable-dev-shm-usage")


@contextmanager
def chromium() -> Iterator[Browser]:
    """The browser while the ``with`` lasts; skips the test where Chromium is missing."""
    path = require("chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(_ARGUMENTS))
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def opened(browser: Browser, address: str, width: int = 1024, height: int = 768, look: Look = "dark") -> Iterator[Page]:
    """A page at ``address`` of its own; fails at the end when the page has complained of anything."""
    with browser.new_context(viewport={"width": width, "height": height}, color_scheme=look) as context:
        page = context.new_page()
        complaints: list[str] = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
        page.goto(address)
        yield page
        assert complaints == []
