"""What the board's page shows and says, in real Chromium against a stand-in for the server."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from main_job.board_double import SETUP, BoardDouble, board_double
from main_job.board_exercise import BEGUN, MARKS, OVER
from main_job.board_notes import ended, frames, phrase, released, silence
from main_job.chromium import Look, chromium, opened

SIZES = ((1024, 768), (1920, 1080), (390, 844))
#: Letters that the back row must read: at 8 m a letter needs 40 mm (a two-hundredth of the distance, a rule of the
#: trade, no source), which on a picture 2 m wide and 1024 pixels across is 20 pixels high, so 28 pixels of font.
BACK_ROW_PX = 20 / 0.72
#: Red, green and blue of a canvas as one number for each pixel, from a share of its width on.
PIXELS = """(canvas, from) => {
  const left = Math.round(canvas.width * from);
  const { data } = canvas.getContext("2d").getImageData(left, 0, canvas.width - left, canvas.height);
  return new Uint32Array(data.buffer).map((pixel) => pixel & 0xffffff);
}"""
#: How many pixels of the canvas have a colour.
COUNT = f"(canvas, colour) => ({PIXELS})(canvas, 0).filter((pixel) => pixel === colour).length"
#: How many pixels differ from the last time this was asked; all of them the first time.
CHANGED = f"""(canvas, from) => {{
  const before = window.before;
  window.before = ({PIXELS})(canvas, from);
  return window.before.filter((pixel, place) => pixel !== before?.[place]).length;
}}"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for this file, closed after it."""
    with chromium() as running:
        yield running


def play_a_third(server: BoardDouble, page: Page) -> None:
    """A page that has loaded hears one released third, which still sounds."""
    expect(page.locator("#key")).to_have_text("C")
    server.show(silence(0.1), *frames(1, 1.0, 0.8, released))


def drawn(page: Page, name: str) -> bool:
    """Whether more than a few pixels of the map have this colour of the style sheet."""
    red, green, blue = colour_of(page, name)
    count: int = page.eval_on_selector("#map", COUNT, red | green << 8 | blue << 16)
    return count >= 20


def changed(page: Page, from_share: float = 0.0) -> int:
    """How many pixels of the map, from this share of its width on, differ from the last time this was asked."""
    count: int = page.eval_on_selector("#map", CHANGED, from_share)
    return count


def colour_of(page: Page, name: str) -> tuple[int, ...]:
    """A colour of the style sheet as red, green and blue."""
    text: str = page.evaluate(f"getComputedStyle(document.documentElement).getPropertyValue('--{name}').trim()")
    return tuple(bytes.fromhex(text.removeprefix("#")))


def contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """Contrast ratio of two colours (WCAG 2.2, definitions of contrast ratio and relative luminance)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: tuple[int, ...]) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2)."""
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in (c / 255 for c in colour)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("look", ["dark", "light"])
@pytest.mark.parametrize("width_height", SIZES)
def test_axe_finds_nothing(browser: Browser, look: Look, width_height: tuple[int, int]) -> None:
    """No rule of axe-core is broken, whichever panel is open and whatever is shown; nothing hangs over the side."""
    width, height = width_height
    with board_double() as server, opened(browser, server.address, width, height, look) as page:
        play_a_third(server, page)
        found = [("playing", Axe().run(page).response["violations"])]
        for panel in ("hear", "lesson", "drill", "harp", "keys"):
            page.click(f"[aria-controls=panel-{panel}]")
            found.append((panel, Axe().run(page).response["violations"]))
        page.keyboard.press("x")
        expect(page.locator("#cover")).to_be_visible()
        found.append(("hidden", Axe().run(page).response["violations"]))
        server.show(BEGUN, silence(3.0))
        expect(page.locator("#count")).to_be_visible()
        found.append(("counted in", Axe().run(page).response["violations"]))
        server.show(OVER, MARKS, silence(3.1))
        expect(page.locator("#result")).to_be_visible()
        found.append(("marks", Axe().run(page).response["violations"]))
        assert [(where, broken) for where, broken in found if broken] == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("look", ["dark", "light"])
def test_what_is_drawn_can_be_told_from_its_ground(browser: Browser, look: Look) -> None:
    """Words have 4.5 : 1, what moves has 3 : 1 against each zone (WCAG 2.2, 1.4.3 and 1.4.11)."""
    with board_double() as server, opened(browser, server.address, look=look) as page:
        play_a_third(server, page)
        grounds = {name: colour_of(page, name) for name in ("paper", "land", "rough", "water")}
        for name, ground in grounds.items():
            assert contrast(colour_of(page, "ink"), ground) >= 4.5, name
            for moving in ("path", "mark", "old", "model", "second"):
                assert contrast(colour_of(page, moving), ground) >= 3.0, (moving, name)
        assert contrast(colour_of(page, "soft"), grounds["paper"]) >= 4.5
        for line in ("edge", "wave"):
            assert contrast(colour_of(page, line), grounds["paper"]) >= 3.0


def test_the_back_row_can_read_it(browser: Browser) -> None:
    """On a projector of 1024 x 768 the harp, the note, the cents and the lamps are large enough at 8 m."""
    with board_double("viewer") as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        for what, least in (("#key", 2.0), ("#words", 1.4), ("#cents", 0.9), ("#lamp-armed", 0.85)):
            size = float(page.evaluate(f"parseFloat(getComputedStyle(document.querySelector('{what}')).fontSize)"))
            assert size >= least * BACK_ROW_PX, what


def test_a_note_is_told_in_words(browser: Browser) -> None:
    """The words are the server's; note, cents above the root and hole stand under them, lamps have words."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        server.show(*frames(2, 3.0, 0.3, lambda _: 354.0))
        expect(page.locator("#words")).to_have_text("third, 46 cents under straight, blue")
        expect(page.locator("#cents")).to_have_text("B4 · 354 cents above G · draw 3")
        expect(page.locator("#lamps")).to_have_text("listening one reed breath", use_inner_text=True)
        expect(page.locator("#position")).to_have_text("harp, root G cross position")
        server.show(*frames(3, 4.0, 0.3, lambda _: 354.0, clean=0.1, breath=0.9))
        expect(page.locator("#lamps")).to_have_text("listening two reeds? strong breath", use_inner_text=True)


def test_one_cent_is_one(browser: Browser) -> None:
    """Not "1 cents"; to either side of the root."""
    with board_double() as server, opened(browser, server.address) as page:
        for number, cents in enumerate((1.0, -1.0), 1):
            server.show(*frames(number, 1.0 + number, 0.2, lambda _, cents=cents: cents, degree="1"))  # type: ignore[misc]
            side = "above" if cents > 0 else "below"
            expect(page.locator("#cents")).to_have_text(f"B4 · 1 cent {side} G · draw 3")


def test_a_shaky_note_shows_its_middle(browser: Browser) -> None:
    """While it moves cents and words are those of the median of the last 150 ms, and say so."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        *_, last = frames(2, 3.0, 0.3, lambda _: 380.0)
        server.show({**last, "shaky": True, "steady": 351.2})
        expect(page.locator("#cents")).to_have_text("B4 · 351 cents above G, the middle of a moving pitch")
        expect(page.locator("#words")).to_have_text("third, around 49 cents under straight")


def test_when_nobody_plays_the_last_phrase_stays_dimmed(browser: Browser) -> None:
    """The bright colour of the path is gone, its dim one is there, the map lies still, and the page is listening."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        assert drawn(page, "path")
        server.show(silence(1.9), ended(1.0, 0.8), phrase((1.0, 0.8)), silence(2.9))
        expect(page.locator("#words")).to_have_text("listening")
        assert not drawn(page, "path")
        assert drawn(page, "old")
        assert changed(page) > 0
        server.show(*(silence(3.0 + i) for i in range(20)))
        assert changed(page) == 0


def test_the_map_does_not_move_while_a_note_sounds(browser: Browser) -> None:
    """The ground stays where it is: beyond the mark, in the right third, not one pixel changes."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        assert changed(page, 2 / 3) > 0
        server.show(*frames(2, 3.0, 0.3, released))
        assert changed(page, 2 / 3) == 0


def test_a_viewer_only_watches(browser: Browser) -> None:
    """There is nothing to press, no key does anything, and the teacher's view is followed."""
    with board_double("viewer") as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        assert page.locator("button:visible, input:visible, select:visible").count() == 0
        for key in (" ", "h", "x", "m", "r", "d"):
            page.keyboard.press(key)
        server.show(silence(3.0))
        assert {said["is"] for said in server.said} == {"seen"}
        view = {"hidden": True, "after": False, "held": False, "under": False, "beside": False, "replays": 0}
        server.show({"is": "shared", "view": view}, silence(3.1))
        expect(page.locator("#cover")).to_be_visible()
        way = [[0, 318], [400, 352]]
        server.show({"is": "shared", "view": {**view, "hidden": False, "beside": True, "attempts": [[way], [way]]}})
        server.show(silence(3.2))
        expect(page.locator("#cover")).to_be_hidden()
        assert drawn(page, "path")


def test_the_line_comes_back_by_itself(browser: Browser) -> None:
    """When the server goes away the page says so, and goes on as soon as it answers."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        expect(page.locator("#arm")).to_have_attribute("aria-pressed", "true")
        server.cut()
        expect(page.locator("#lamp-armed")).to_have_text("not connected")
        expect(page.locator("#words")).to_have_text("not connected")
        expect(page.locator("#lamp-armed")).to_have_text("connected", timeout=20_000)
        expect(page.locator("#words")).to_have_text("…")
        server.show(*frames(2, 9.0, 0.2, lambda _: 352.0))
        expect(page.locator("#words")).to_have_text("third, 48 cents under straight, blue")


def test_when_the_performance_is_over_nothing_old_stays(browser: Browser) -> None:
    """Words say why, the lamps are off, no listening; code 1001 is "going away" (RFC 6455, 7.4.1)."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        server.cut(1001)
        expect(page.locator("#words")).to_have_text("the performance is over")
        expect(page.locator("#lamps")).to_have_text("over no note no breath", use_inner_text=True)
        assert page.locator("[data-on=true]").count() == 0
        expect(page.locator("#arm")).to_have_attribute("aria-pressed", "false")
        expect(page.locator("#cents")).to_have_text("")
        assert not drawn(page, "mark")


def test_a_line_for_the_player_goes_when_something_is_heard(browser: Browser) -> None:
    """It is there while nothing is; once it has been there for some seconds the next note takes its place."""
    with board_double() as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        server.show({"is": "saying", "text": "It begins."}, silence(0.1), silence(9.0))
        expect(page.locator("#saying")).to_have_text("It begins.")
        server.show(*frames(1, 9.1, 0.3, released))
        expect(page.locator("#saying")).to_have_text("")
        server.show({"is": "saying", "text": "Something else."}, *frames(2, 9.5, 0.3, released))
        expect(page.locator("#saying")).to_have_text("Something else.")


def test_a_harp_that_is_sought_or_changed_is_told(browser: Browser) -> None:
    """Unknown, nothing can be sung; known, the key stands there in large letters and the map is the harp's."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        unknown = {**SETUP, "harp": None, "root": None, "root_hz": None, "position": None}
        server.show({"is": "setup", "setup": unknown}, silence(3.0, sought=True))
        expect(page.locator("#key")).to_have_text("?")
        page.click("[aria-controls=panel-hear]")
        expect(page.locator("#sing")).to_be_disabled()
        server.show({"is": "setup", "setup": {**SETUP, "harp": "low-F", "root": "C", "straight": 386.0}}, silence(4.0))
        expect(page.locator("#key")).to_have_text("low-F")
        # What was played on the other one is gone: its cents were counted from another root.
        assert not drawn(page, "old")
        expect(page.locator("#sing")).to_be_enabled()


def test_a_screen_reader_is_told_each_note_and_not_flooded(browser: Browser) -> None:
    """The words that change all the time are not announced; of notes in quick succession the last one is."""
    with board_double() as server, opened(browser, server.address) as page:
        play_a_third(server, page)
        live = page.evaluate("[...document.querySelectorAll('[aria-live], [role=status]')].map(e => e.id)")
        # Beside a field it is said what may stand in it, once somebody has written something else.
        assert live == ["told", "tempo-allowed", "drill-allowed"]
        page.evaluate(
            "window.said = []; new MutationObserver(() => said.push(document.getElementById('told').textContent))"
            ".observe(document.getElementById('told'), {childList: true, characterData: true, subtree: true})"
        )
        for number in range(10):
            server.show(ended(3.0 + number, 0.1, f"note {number}"))
        expect(page.locator("#told")).to_have_text("note 9", timeout=10_000)
        assert len(page.evaluate("said")) <= 2
