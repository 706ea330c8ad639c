"""The ways of notes on the board's map, in real Chromium: where they begin, how many stay, what stands over them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from main_job.board_double import board_double
from main_job.board_exercise import BEGUN
from main_job.board_notes import ended, frames, phrase, silence
from main_job.chromium import chromium, opened

#: Two notes in one breath: points of a trail, 4 ms apart, and the note that is known with each four of them.
WAYS = """async ([notes, cents]) => {
  const { Paths } = await import("/page/paths.js");
  const paths = new Paths();
  notes.forEach((id, index) => {
    const trail = [0, 1, 2, 3].map((step) => 4 * index + step).map((point) => [point * 0.004, cents[point]]);
    paths.take(id === null ? null : { id, degree: "3" }, trail, false);
  });
  return paths.all.map(({ begin, points }) => ({ begin, cents: points.map(([, value]) => value) }));
}"""


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    """A page that is there."""
    with chromium() as browser, board_double() as server, opened(browser, server.address) as ready:
        expect(ready.locator("#key")).to_have_text("C")
        yield ready


@pytest.fixture(scope="module")
def browser(page: Page) -> Browser:
    """Its browser."""
    running = page.context.browser
    assert running is not None
    return running


def _ways(page: Page, notes: Sequence[int | None], cents: Sequence[float]) -> Any:  # noqa: ANN401
    return page.evaluate(WAYS, [list(notes), list(cents)])


@pytest.mark.parametrize("leap", [18, 22, 25])
@pytest.mark.parametrize("slide", [[], [560.0, 450.0]])
def test_another_hole_in_one_breath_begins_at_its_own_start(page: Page, leap: int, slide: list[float]) -> None:
    """Whether the leap comes before the new note is known or with it, no way holds pitches of both."""
    cents = [*[700.0] * (leap - len(slide)), *slide, *[351.0] * (40 - leap)]
    first, second = _ways(page, [1] * 6 + [2] * 4, cents)
    assert set(second["cents"]) == {351.0}
    assert second["begin"] == pytest.approx(leap * 0.004)
    assert 351.0 not in first["cents"]
    assert first["begin"] == 0.0


def test_a_note_tongued_again_keeps_its_own_way(page: Page) -> None:
    """The same pitch, without a leap: nothing is taken from the note before; silence belongs to nobody."""
    first, second = _ways(page, [1] * 5 + [2] * 5, [351.0] * 40)
    assert (len(first["cents"]), len(second["cents"])) == (20, 20)
    one, other = _ways(page, [1] * 4 + [None] + [2] * 5, [700.0] * 18 + [351.0] * 22)
    assert (set(one["cents"]), set(other["cents"])) == ({700.0}, {351.0})


def test_of_a_riff_the_last_ways_stay(browser: Browser) -> None:
    """Ten thirds, each at another place: six of them, the older the fainter; the same when it is over."""
    with board_double() as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        page.evaluate(
            """() => {
              window.drawn = [];
              const stroke = CanvasRenderingContext2D.prototype.arc;
              CanvasRenderingContext2D.prototype.arc = function (...how) {
                drawn.push(Math.round(1000 * this.globalAlpha) / 1000);
                return stroke.apply(this, how);
              };
            }"""
        )
        times = [1.0 + 0.3 * number for number in range(10)]
        for number, at in enumerate(times):
            cents = 300.0 + 10.0 * number
            server.show(*frames(number + 1, at, 0.2, lambda _, cents=cents: cents), ended(at, 0.2))  # type: ignore[misc]
        for moment in (silence(4.0), silence(5.1)):
            page.evaluate("drawn.length = 0")
            server.show(moment)
            # It may be drawn more than once.
            drawn = page.evaluate("drawn")
            shades = drawn[-6:]
            assert drawn == shades * (len(drawn) // 6)
            assert shades == sorted(shades)
            assert shades[0] < 0.5
            assert shades[-1] == 1.0
            server.show(phrase(*((at, 0.2) for at in times)))


def test_names_of_zones_stand_over_the_ways(browser: Browser) -> None:
    """A way that is held in the middle of the blue zone until it reaches its name does not change the name."""
    with board_double() as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        page.evaluate(
            """() => {
              window.order = [];
              const [write, stroke] = ["fillText", "stroke"].map((name) => CanvasRenderingContext2D.prototype[name]);
              CanvasRenderingContext2D.prototype.fillText = function (...how) {
                order.push(how[0]);
                return write.apply(this, how);
              };
              CanvasRenderingContext2D.prototype.stroke = function (...how) {
                order.push("way");
                return stroke.apply(this, how);
              };
            }"""
        )
        server.show(*frames(1, 1.0, 0.4, lambda _: 340.0), ended(1.0, 0.4))
        page.evaluate("order.length = 0")
        server.show(silence(1.6))
        order = page.evaluate("order")
        assert "way" in order
        for name in ("blue", "straight", "minor"):
            assert order.index(name) > len(order) - 1 - order[::-1].index("way")


def test_a_count_in_stands_alone(browser: Browser) -> None:
    """Over a hidden picture there is the beat, and no other words behind it; afterwards they are there again."""
    with board_double() as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        server.show(silence(0.1))
        page.keyboard.press("x")
        expect(page.locator("#cover")).to_have_text("Ears first: the picture is hidden")
        server.show({**BEGUN, "in": 0.2, "tempo": 200}, silence(0.2))
        expect(page.locator("#count-beat")).to_be_visible()
        expect(page.locator("#cover")).to_have_text("")
        expect(page.locator("#cover")).to_have_text("Ears first: the picture is hidden")
        assert page.is_hidden("#map")


def test_my_last_note_is_drawn_too(browser: Browser) -> None:
    """Its own line beneath the trace, for viewers too, and no other model's; the next note does not change it."""
    with board_double() as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        server.show(*frames(1, 1.0, 0.5, lambda s: 320.0 + 100.0 * s), ended(1.0, 0.5), silence(1.7))
        page.click("[aria-controls=panel-hear]")
        page.select_option("#model", "own")
        page.check("#under")
        server.show(*frames(2, 3.0, 0.5, lambda _: 380.0), ended(3.0, 0.5), silence(3.7))
        view = server.wait_for("share", lambda said: said[-1]["view"]["under"] is True)[-1]["view"]
        assert view["model"] == "own"
        assert view["own"][0] == pytest.approx([0, 320], abs=1)
        assert view["own"][-1] == pytest.approx([500, 370], abs=25)
        assert len(view["own"]) <= 24
        drawn = page.evaluate(
            """async (view) => {
              const [{ sceneOf }, { Board }] = await Promise.all([import("/page/scene.js"), import("/page/board.js")]);
              const board = new Board();
              board.take({ is: "setup", setup: { minor: 300, straight: 400, zone_low: 315, zone_high: 365 } });
              return sceneOf(board, view, null).sides[0].model;
            }""",
            view,
        )
        (stroke,) = drawn
        assert [cents for _, cents in stroke["points"]] == [cents for _, cents in view["own"]]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("m", "the model sounds"),
        ("r", "the last phrase sounds"),
        ("d", "the drone sounds"),
        ("l", "the loop sounds"),
        ("f", "the reference tone sounds"),
    ],
)
def test_it_is_said_what_sounds(browser: Browser, key: str, words: str) -> None:
    """On the teacher's page and on those of the viewers, who are told by it; two are both told."""
    with board_double() as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        server.show(*frames(1, 1.0, 0.5, lambda _: 340.0), ended(1.0, 0.5), silence(1.7))
        server.show(phrase((1.0, 0.5)), silence(2.7))
        page.keyboard.press(key)
        server.wait_for("share", lambda said: said[-1]["view"]["sounding"] == words)
        server.show(silence(3.0, quiet=True, armed=False, words="a tone sounds"))
        expect(page.locator("#words")).to_have_text(words)
        if key == "l":
            page.keyboard.press("d")
            expect(page.locator("#words")).to_have_text("the loop and the drone sound")
        page.keyboard.press("Escape")
        server.show(silence(4.0))
        expect(page.locator("#words")).to_have_text("listening")
