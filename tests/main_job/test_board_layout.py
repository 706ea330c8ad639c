"""What stands where on the board's page, in real Chromium: nothing jumps, nothing lies over anything."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from main_job.board_double import BoardDouble, board_double
from main_job.board_notes import frames, released, silence
from main_job.chromium import chromium, opened

SIZES = ((1024, 768), (1920, 1080), (390, 844))


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for this file, closed after it."""
    with chromium() as running:
        yield running


def play_a_third(server: BoardDouble, page: Page) -> None:
    """A page that has loaded hears one released third, which still sounds."""
    expect(page.locator("#key")).to_have_text("C")
    server.show(silence(0.1), *frames(1, 1.0, 0.8, released))


@pytest.mark.parametrize("width_height", SIZES)
def test_longer_words_do_not_move_the_map(browser: Browser, width_height: tuple[int, int]) -> None:
    """The longest that the server says of a third takes no more room than the shortest."""
    with board_double() as server, opened(browser, server.address, *width_height) as page:
        play_a_third(server, page)
        heights = set()
        for number, words in enumerate(("root", "third, 25 under, between blue and straight"), 2):
            server.show(*frames(number, 3.0 + number, 0.2, lambda _: 352.0, words=words))
            expect(page.locator("#words")).to_have_text(words)
            heights.add(page.eval_on_selector("#map", "map => map.clientHeight"))
        assert len(heights) == 1


@pytest.mark.parametrize("width_height", SIZES)
def test_the_words_of_the_lamps_do_not_move_the_map(browser: Browser, width_height: tuple[int, int]) -> None:
    """Each lamp keeps its place and its one line, whatever it says."""
    with board_double("viewer") as server, opened(browser, server.address, *width_height) as page:
        play_a_third(server, page)
        seen = set()
        loud: dict[str, Any] = {"breath": 0.9, "clean": 0.1}
        moments: list[dict[str, Any]] = [
            {},
            {"armed": False},
            {"quiet": True},
            {"stalled": True},
            loud,
            {"breath": 0.2},
        ]
        for number, moment in enumerate(moments, 2):
            server.show(*frames(number, 3.0 + number, 0.1, lambda _: 352.0, **moment))
            seen.add(
                page.evaluate(
                    """JSON.stringify([...document.querySelectorAll(".lamp, #map")].map((each) => {
                      const { x, y, height } = each.getBoundingClientRect();
                      return [x, y, height].map(Math.round);
                    }))"""
                )
            )
        server.cut(1001)
        expect(page.locator("#lamp-armed")).to_have_text("over")
        assert len(seen) == 1, seen


@pytest.mark.parametrize("width_height", SIZES)
@pytest.mark.parametrize("panel", ["hear", "lesson", "drill", "harp", "keys"])
def test_an_open_panel_lies_over_nothing(browser: Browser, width_height: tuple[int, int], panel: str) -> None:
    """Words stand above the tools, all of which can be reached: nothing hangs below the window."""
    width, height = width_height
    with board_double() as server, opened(browser, server.address, width, height) as page:
        play_a_third(server, page)
        page.click(f"[aria-controls=panel-{panel}]")
        say, tools = (page.locator(where).bounding_box() for where in ("#say", "#tools"))
        shown = page.locator(f"#panel-{panel}").bounding_box()
        assert say is not None
        assert tools is not None
        assert shown is not None
        assert say["y"] + say["height"] <= tools["y"] + 1
        assert shown["y"] + shown["height"] <= height + 1
        last = page.locator(f"#panel-{panel} :is(button, input, select)").last
        last.scroll_into_view_if_needed()
        box = last.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= height + 1
        assert page.evaluate("document.documentElement.scrollHeight") <= height


@pytest.mark.parametrize("width_height", SIZES)
def test_it_is_told_how_to_read_the_map(browser: Browser, width_height: tuple[int, int]) -> None:
    """By mouse or by Enter, for dot, ring, ways, dashes and time; axe-core finds nothing."""
    with board_double() as server, opened(browser, server.address, *width_height) as page:
        play_a_third(server, page)
        page.click("[aria-controls=panel-keys]")
        legend = page.locator("#legend ul")
        expect(legend).to_be_hidden()
        page.focus("#legend summary")
        page.keyboard.press("Enter")
        expect(legend).to_be_visible()
        for word in ("dot", "ring", "broad", "thin", "dashed", "not evenly spaced"):
            expect(legend).to_contain_text(word)
        assert Axe().run(page).response["violations"] == []
        say, tools = page.locator("#say").bounding_box(), page.locator("#tools").bounding_box()
        assert say is not None
        assert tools is not None
        assert say["y"] + say["height"] <= tools["y"] + 1
