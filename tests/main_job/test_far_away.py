"""A student far away gets one page by mail: it opens from disk, asks no network, plays, and says the one thing to try.

Accessibility is judged by axe-core, the engine of Deque Systems, against WCAG 2.2 A and AA.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from main_job.chromium import Look, chromium
from main_job.mailed_pages import TIMED, made, read_from_disk, save
from sounds.students import FAULTY, TEACHER, played_by

SAID = {
    "shallow": "Begin lower, bent before you breathe",
    "deep": "Begin less deep",
    "unreleased": "Let go of the bend while it sounds",
    "two holes": "Narrow your lips until one hole sounds alone",
    "late": "Start sooner",
}
#: What of the first third a row of the table says of the student, and of the difference.
ROW = {
    "shallow": ("began", "cents under straight", "cents higher"),
    "deep": ("began", "cents under straight", "cents lower"),
    "unreleased": ("let go", "not let go", "only the teacher lets go"),
    "two holes": ("holes", "two in", "a second hole sounds"),
    "late": ("start", "at 0.7", "ms behind the beat"),
}
#: A sound goes on for so long before it is looked at again, milliseconds; and a page has so long to do as it is told.
WHILE_MS, PATIENCE_MS, LOOK_MS = 600, 15_000, 50
TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
AXE = {"runOnly": {"type": "tag", "values": list(TAGS)}}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for this file, closed after it."""
    with chromium() as running:
        yield running


class Pages(dict[str, Path]):
    """A page for each fault, beside the same teacher, and the four ways of a model tone, made when it is needed."""

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self._folder = folder

    def __missing__(self, name: str) -> Path:
        """Make it: each takes some seconds."""
        out = self._folder / f"{name}.html"
        if name == "explain":
            self[name] = made("explain", "--harp", "A", out=out)
        else:
            teacher = save(self._folder / "teacher.wav", played_by(TEACHER))
            student = save(self._folder / f"{name}.wav", played_by(FAULTY[name]))
            self[name] = made("compare", teacher, student, *TIMED, out=out)
        return self[name]


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Pages:
    """The pages that were mailed."""
    return Pages(tmp_path_factory.mktemp("mailed"))


def position(page: Page, name: str) -> float:
    """How far a sound of the page has come, seconds."""
    found: float = page.evaluate("id => document.getElementById(id).currentTime", name)
    return found


def await_that(page: Page, what: str, arg: object = None) -> None:
    """Ask the page until ``what``, a function in JavaScript, says yes; a policy against eval bars Playwright's own."""
    for _ in range(PATIENCE_MS // LOOK_MS):
        if page.evaluate(what, arg):
            return
        page.wait_for_timeout(LOOK_MS)
    pytest.fail(f"not within {PATIENCE_MS} ms: {what} {arg}")


def await_playing(page: Page, name: str, rate: float) -> None:
    """Wait until a sound plays at that rate, and see it go on."""
    await_that(
        page,
        "([id, rate]) => { const sound = document.getElementById(id);"
        " return !sound.paused && sound.playbackRate === rate && sound.currentTime > 0.05; }",
        [name, rate],
    )
    before = position(page, name)
    page.wait_for_timeout(WHILE_MS)
    assert position(page, name) > before


def await_end(page: Page, name: str) -> None:
    """Go to just before the end of a sound that plays, and wait for it."""
    page.evaluate("id => { const s = document.getElementById(id); s.currentTime = s.duration - 0.1; }", name)
    await_that(page, "id => document.getElementById(id).ended", name)


@pytest.mark.parametrize("fault", SAID)
def test_each_fault_is_told_in_the_page(browser: Browser, pages: Pages, fault: str) -> None:
    """The advice, and the row of the table that it comes from."""
    with read_from_disk(browser, pages[fault]) as page:
        expect(page.locator(".advice p")).to_contain_text(SAID[fault])
        what, student, difference = ROW[fault]
        row = page.locator("#third-1 ~ table tr", has=page.locator(f"th:text-is('{what}')")).locator("td")
        expect(row.nth(1)).to_contain_text(student)
        expect(row.nth(2)).to_contain_text(difference)
        words = page.inner_text("main").lower().split()
        assert not {"wrong", "incorrect", "bad", "error"} & set(words)


def test_every_sound_can_be_played(browser: Browser, pages: Pages) -> None:
    """Each decodes to some seconds; a native control plays it, by the keyboard too."""
    for name in ("late", "explain"):
        with read_from_disk(browser, pages[name]) as page:
            await_that(page, "() => [...document.querySelectorAll('audio')].every(sound => sound.readyState >= 1)")
            lengths = page.evaluate("() => [...document.querySelectorAll('audio')].map(sound => sound.duration)")
            assert len(lengths) == {"late": 4, "explain": 5}[name]
            assert all(1.0 < length < 6.0 for length in lengths)
            first = page.locator("audio").first
            first.focus()
            page.keyboard.press("Space")
            await_playing(page, first.get_attribute("id") or "", 1.0)


def test_teacher_and_student_play_in_turn(browser: Browser, pages: Pages) -> None:
    """At full and at half speed, one after the other and never both; Escape stops."""
    with read_from_disk(browser, pages["deep"]) as page:
        page.get_by_role("button", name="Teacher, then student").first.click()
        await_playing(page, "t1", 1.0)
        assert position(page, "s1") == 0.0
        await_end(page, "t1")
        await_playing(page, "s1", 1.0)
        page.keyboard.press("Escape")
        await_that(page, "() => document.getElementById('s1').paused")
        half = page.get_by_role("button", name="Both at half speed").nth(1)
        half.focus()
        page.keyboard.press("Enter")
        await_playing(page, "t2", 0.5)
        expect(page.get_by_role("status")).to_have_text("Third 2 of 2, teacher, half speed")
        await_end(page, "t2")
        await_playing(page, "s2", 0.5)
        page.get_by_role("button", name="Stop").first.click()
        await_that(page, "() => [...document.querySelectorAll('audio')].every(s => s.paused)")


def test_a_line_walks_with_the_sound_unless_motion_is_not_wanted(browser: Browser, pages: Pages) -> None:
    """Over the map of the note that sounds; with reduced motion nothing moves."""
    with read_from_disk(browser, pages["deep"]) as page:
        line = page.locator("#now-t1")
        page.get_by_role("button", name="Teacher at half speed").first.click()
        await_playing(page, "t1", 0.5)
        expect(line).not_to_have_attribute("hidden", "")
        there = line.get_attribute("transform")
        page.wait_for_timeout(WHILE_MS)
        assert line.get_attribute("transform") != there
        page.keyboard.press("Escape")
        expect(line).to_have_attribute("hidden", "")
        page.emulate_media(reduced_motion="reduce")
        page.get_by_role("button", name="Teacher at half speed").first.click()
        await_playing(page, "t1", 0.5)
        expect(line).to_have_attribute("hidden", "")


@pytest.mark.parametrize("look", ["dark", "light"])
@pytest.mark.parametrize("size", [(1024, 768), (390, 844)])
@pytest.mark.parametrize("name", ["two holes", "explain"])
def test_axe_finds_nothing(browser: Browser, pages: Pages, name: str, size: tuple[int, int], look: Look) -> None:
    """In dark and light, on a projector and on a phone; and nothing is wider than the screen."""
    with read_from_disk(browser, pages[name], *size, look) as page:
        found = Axe().run(page, options=AXE)
        assert found.violations_count == 0, found.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_every_control_is_large_enough_for_a_thumb(browser: Browser, pages: Pages) -> None:
    """44 pixels high, as WCAG 2.2 wants it at its strictest (2.5.5)."""
    with read_from_disk(browser, pages["deep"], 390, 844) as page:
        buttons = page.locator("button")
        boxes = [box for place in range(buttons.count()) if (box := buttons.nth(place).bounding_box()) is not None]
        assert boxes
        assert min(box["height"] for box in boxes) >= 44.0


def test_the_page_reads_without_script(browser: Browser, pages: Pages) -> None:
    """A mail program that runs none shows pictures, words and players; buttons that could do nothing are not there."""
    with browser.new_context(java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(pages["deep"].as_uri())
        assert page.locator("audio[controls]").count() == 4
        assert page.locator("figure svg").count() == 4
        assert page.locator("button:visible").count() == 0
        expect(page.locator(".advice p")).to_contain_text(SAID["deep"])
