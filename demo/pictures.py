"""Makes the pictures of the board in ``demo/pictures/``: the real page in Chromium, shown invented notes.

``.venv/bin/python demo/pictures.py`` after ``tests/run`` has set everything up.
"""

from __future__ import annotations

import io
import math
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

_TOP = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(_TOP / "tests"), str(_TOP)]

from PIL import Image  # noqa: E402 -- the stand-in for the server lies with the tests
from playwright.sync_api import Browser, Page  # noqa: E402

from main_job.board_double import BoardDouble, Message, board_double  # noqa: E402
from main_job.board_exercise import BEGUN, MARKS, OVER  # noqa: E402
from main_job.board_notes import ended, frames, phrase, silence  # noqa: E402
from main_job.chromium import Look, chromium, opened  # noqa: E402

FOLDER = _TOP / "demo" / "pictures"
#: A picture has few colours, and as few keep it small.
_COLOURS = 64
#: What there is to see has come to rest after this, in milliseconds.
_REST_MS = 400


def reed(curve: Callable[[float], float]) -> Callable[[float], float]:
    """A curve as a reed plays it: it comes up from below at first, and breath is never quite even."""
    return lambda s: curve(s) - 28.0 * math.exp(-s * 22.0) + 1.6 * math.sin(11.0 * s) + 0.9 * math.sin(29.0 * s)


def let_go(low: float, high: float, begin_s: float, length_s: float) -> Callable[[float], float]:
    """From ``low`` to ``high`` cents, smoothly, from ``begin_s`` on within ``length_s`` seconds."""

    def curve(seconds: float) -> float:
        share = min(1.0, max(0.0, (seconds - begin_s) / length_s))
        return low + (high - low) * (0.5 - 0.5 * math.cos(math.pi * share))

    return reed(curve)


def two_tries() -> Iterator[Message]:
    """A phrase of two thirds: one let go too soon, one late and not quite all the way."""
    yield silence(0.5)
    yield from frames(1, 1.0, 0.9, let_go(338.0, 399.0, 0.05, 0.25))
    yield ended(1.0, 0.9)
    yield silence(2.0)
    yield from frames(2, 2.3, 1.2, let_go(309.0, 384.0, 0.3, 0.6))
    yield ended(2.3, 1.2)
    yield silence(3.6)


def a_blue_third() -> Iterator[Message]:
    """A third that is held in the blue zone and still sounds."""
    yield from frames(3, 4.0, 1.4, let_go(322.0, 354.0, 0.1, 0.3), breath=0.6)


def a_third_on_its_way() -> Iterator[Message]:
    """A third between blue and straight, shaking."""

    def shaking(seconds: float) -> float:
        return let_go(318.0, 372.0, 0.15, 0.5)(seconds) + 24.0 * math.sin(2.0 * math.pi * 5.5 * seconds)

    yield from frames(3, 4.0, 1.15, shaking, breath=0.8)


def main() -> None:
    """Make them all."""
    FOLDER.mkdir(exist_ok=True)
    with chromium() as browser:
        for look in ("dark", "light"):
            for width, height in ((1024, 768), (1920, 1080), (390, 844)):
                role = "viewer" if width == 390 else "teacher"
                with board_double(role) as server, opened(browser, server.address, width, height, look) as page:
                    _play(server, page, a_blue_third())
                    _keep(page, f"playing-{width}x{height}-{look}")
        _lesson(browser, "dark")
        for width, height in ((1024, 768), (390, 844)):
            _exercise(browser, width, height)


def _lesson(browser: Browser, look: Look) -> None:
    """What a teacher does with it: a model under the trace, two attempts, and nobody playing."""
    with board_double() as server, opened(browser, server.address, look=look) as page:
        _play(server, page, iter(()))
        page.keyboard.press("1")
        page.keyboard.press("u")
        _play(server, page, a_third_on_its_way())
        _keep(page, f"model-1024x768-{look}")
        server.show(silence(5.3), ended(4.0, 1.15), silence(5.5))
        page.keyboard.press("2")
        page.keyboard.press("s")
        _keep(page, f"attempts-1024x768-{look}")
        page.keyboard.press("s")
        page.keyboard.press("u")
        server.show(phrase((1.0, 0.9), (2.3, 1.2), (4.0, 1.15)), silence(6.6))
        page.click("[aria-controls=panel-hear]")
        _keep(page, f"hear-1024x768-{look}")


def _exercise(browser: Browser, width: int, height: int) -> None:
    """An exercise on the teacher's page: counted in, and its marks, with the panel from which it was begun."""
    with board_double() as server, opened(browser, server.address, width, height) as page:
        _play(server, page, iter(()))
        page.click("[aria-controls=panel-drill]")
        page.select_option("#exercise", "blue")
        page.fill("#player", MARKS["player"])
        page.fill("#drill-tempo", str(MARKS["tempo"]))
        page.focus("#drill")
        server.show({**BEGUN, "in": -0.5 * 60.0 / BEGUN["tempo"]}, silence(3.8))
        _keep(page, f"counted-in-{width}x{height}-dark")
        server.show(OVER, MARKS, silence(3.9))
        _keep(page, f"marks-{width}x{height}-dark")


def _play(server: BoardDouble, page: Page, notes: Iterator[Message]) -> None:
    """Two tries, the first time, and then ``notes``, once the page is there."""
    page.wait_for_selector("#key:has-text('C')")
    if page.inner_text("#words") == "…":
        server.show(*two_tries())
    played = list(notes)
    if played:
        server.show(*played)


def _keep(page: Page, name: str) -> None:
    """The page as a small PNG."""
    page.wait_for_timeout(_REST_MS)
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
    picture.save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
