"""What moves on the board's page, and what does not for somebody who has asked the system for less of it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from main_job.board_double import BoardDouble, board_double
from main_job.board_exercise import BEGUN, MARKS, OVER
from main_job.board_notes import ended, frames, phrase, released, silence
from main_job.chromium import chromium, opened
from main_job.test_board_picture import changed, drawn


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for this file, closed after it."""
    with chromium() as running:
        yield running


def _replayed(server: BoardDouble, page: Page) -> list[int]:
    """How many pixels of the map change from one moment of a replay to the next."""
    expect(page.locator("#key")).to_have_text("C")
    server.show(silence(0.1), *frames(1, 1.0, 0.8, released), ended(1.0, 0.8), silence(1.9))
    server.show(phrase((1.0, 0.8)), silence(2.9))
    page.keyboard.press("r")
    expect(page.locator("#tag")).to_have_text("the last phrase again")
    page.wait_for_timeout(100)
    changed(page)
    moments = []
    for _ in range(3):
        page.wait_for_timeout(150)
        moments.append(changed(page))
    return moments


def test_a_replay_runs_through_the_phrase(browser: Browser) -> None:
    """As it was played."""
    with board_double() as server, opened(browser, server.address) as page:
        assert min(_replayed(server, page)) > 0


def test_with_less_motion_a_replay_shows_the_phrase_at_once(browser: Browser) -> None:
    """WCAG 2.2, 2.3.3, and prefers-reduced-motion (Media Queries Level 5): the sound runs, the picture stands still."""
    with board_double() as server, opened(browser, server.address, still=True) as page:
        assert _replayed(server, page) == [0, 0, 0]
        assert drawn(page, "path") or drawn(page, "old")
        expect(page.locator("#tag")).to_be_hidden(timeout=10_000)


@pytest.mark.parametrize("still", [False, True])
def test_nothing_is_animated(browser: Browser, still: bool) -> None:
    """No transition and no animation of a style sheet runs, whatever is shown: only what is played moves."""
    with board_double() as server, opened(browser, server.address, still=still) as page:
        expect(page.locator("#key")).to_have_text("C")
        running = "document.getAnimations().length"
        for message in (BEGUN, OVER, MARKS):
            server.show(message, silence(0.2))
            assert page.evaluate(running) == 0
        page.keyboard.press("k")
        page.click("[aria-controls=panel-hear]")
        assert page.evaluate(running) == 0
