"""Every tool of the board's page works by mouse and by keyboard, in real Chromium against a stand-in for the server."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, Page, expect

from main_job.board_double import BoardDouble, Message, board_double
from main_job.board_hands import Hands, choose, open_panel, reach, slide, use
from main_job.board_notes import ended, frames, phrase, released, silence
from main_job.chromium import chromium, opened


@dataclass(frozen=True)
class Lesson:
    """A page on which a third has been played, and the server behind it."""

    page: Page
    server: BoardDouble
    hands: Hands

    def wait_shared(self, what: str, value: object) -> None:
        """Wait until the page shares this value."""
        self.server.wait_for("share", lambda said: said[-1]["view"][what] == value)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for this file, closed after it."""
    with chromium() as running:
        yield running


@pytest.fixture(params=["mouse", "keyboard"])
def lesson(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Lesson]:
    """A teacher's page after a phrase of one third, for either pair of hands."""
    with board_double() as server, opened(browser, server.address) as page:
        page.wait_for_selector("#tools:not([hidden])")
        server.show(silence(0.1), *frames(1, 1.0, 0.6, released), ended(1.0, 0.6), silence(1.7))
        server.show(phrase((1.0, 0.6)), silence(2.7))
        yield Lesson(page, server, request.param)


def _so_many(count: int) -> Callable[[list[Message]], bool]:
    """Whether it has been asked for so many times."""
    return lambda said: len(said) == count


def _last(name: str, value: object) -> Callable[[list[Message]], bool]:
    """Whether it was asked for with this value last."""
    return lambda said: bool(said[-1][name] == value)


def test_listening_is_stopped_and_started(lesson: Lesson) -> None:
    """The button asks for the other state than the one that the server told last."""
    use(lesson.page, lesson.hands, "arm")
    assert lesson.server.wait_for("arm") == [{"is": "do", "what": "arm", "on": False}]
    lesson.server.show(silence(3.0, armed=False, words="not listening"))
    expect(lesson.page.locator("#lamp-armed")).to_have_text("not listening")
    expect(lesson.page.locator("#arm")).to_have_attribute("aria-pressed", "false")
    use(lesson.page, lesson.hands, "arm")
    assert lesson.server.wait_for("arm", lambda said: len(said) > 1)[-1]["on"] is True


def test_the_picture_is_held_and_let_go(lesson: Lesson) -> None:
    """While it is held words and picture stand still; afterwards they show what sounds now."""
    use(lesson.page, lesson.hands, "hold")
    lesson.wait_shared("held", value=True)
    before = lesson.page.inner_text("#words")
    lesson.server.show(*frames(2, 4.0, 0.4, lambda _: 352.0))
    assert lesson.page.inner_text("#words") == before
    assert lesson.page.inner_text("#tag") == "held"
    use(lesson.page, lesson.hands, "hold")
    expect(lesson.page.locator("#words")).to_have_text("third, 48 cents under straight, blue")


def test_the_phrase_is_replayed_in_picture_and_tone(lesson: Lesson) -> None:
    """The replay sounds, so that the microphone pauses, is told to viewers, runs, and ends by itself."""
    use(lesson.page, lesson.hands, "replay")
    lesson.wait_shared("replays", 1)
    expect(lesson.page.locator("#tag")).to_have_text("the last phrase again")
    quiet = lesson.server.wait_for("quiet", lambda said: len(said) == 2)
    assert [said["on"] for said in quiet] == [True, False]
    expect(lesson.page.locator("#tag")).to_be_hidden()


def test_every_model_is_sung(lesson: Lesson) -> None:
    """Each model, and what was played last, sounds while the microphone pauses, and can be stopped."""
    open_panel(lesson.page, lesson.hands, "hear")
    for sung, model in enumerate(["straight", "minor", "blue", "released", "tongued", "turns", "own"]):
        choose(lesson.page, lesson.hands, "model", model)
        use(lesson.page, lesson.hands, "sing")
        lesson.server.wait_for("quiet", _so_many(2 * sung + 1))
        use(lesson.page, lesson.hands, "silence")
        lesson.server.wait_for("quiet", _so_many(2 * sung + 2))
        assert [said["on"] for said in lesson.server.asked("quiet")[-2:]] == [True, False]


def test_a_model_is_drawn_under_the_trace_at_its_tempo(lesson: Lesson) -> None:
    """Viewers are told which model is drawn and how fast; the picture changes."""
    open_panel(lesson.page, lesson.hands, "hear")
    before = lesson.page.locator("#map").screenshot()
    use(lesson.page, lesson.hands, "under")
    lesson.wait_shared("under", value=True)
    lesson.server.show(silence(3.0))
    assert lesson.page.locator("#map").screenshot() != before
    choose(lesson.page, lesson.hands, "model", "tongued")
    lesson.wait_shared("model", "tongued")
    reach(lesson.page, "tempo") if lesson.hands == "keyboard" else lesson.page.click("#tempo")
    lesson.page.keyboard.press("ArrowUp")
    lesson.page.keyboard.press("Tab")
    lesson.wait_shared("tempo", 85)


def test_a_tempo_that_cannot_be_is_told_and_the_last_one_stays(lesson: Lesson) -> None:
    """Too slow, too fast, none, or a part of a beat: it is said what may stand there, and the model is sung."""
    open_panel(lesson.page, lesson.hands, "hear")
    said = lesson.page.locator("#tempo-allowed")
    for tempo in ("72", "200", "40"):
        lesson.page.fill("#tempo", tempo)
        lesson.page.keyboard.press("Tab")
        lesson.wait_shared("tempo", int(tempo))
        expect(said).to_be_hidden()
    for never in ("", "39", "201", "60.5", "-80"):
        lesson.page.fill("#tempo", "80")
        lesson.page.fill("#tempo", never)
        lesson.page.keyboard.press("Tab")
        expect(said).to_have_text("Beats a minute: a whole number from 40 to 200")
    use(lesson.page, lesson.hands, "sing")
    lesson.server.wait_for("quiet")
    lesson.server.show(silence(3.0))
    assert lesson.server.asked("share")[-1]["view"]["tempo"] == 40


@pytest.mark.parametrize("tone", ["drone", "loop", "reference"])
def test_a_lasting_tone_is_started_and_stopped(lesson: Lesson, tone: str) -> None:
    """Drone, loop and reference tone go on until they are stopped; the microphone pauses as long."""
    open_panel(lesson.page, lesson.hands, "hear")
    for on in (True, False):
        use(lesson.page, lesson.hands, tone)
        lesson.server.wait_for("quiet", _last("on", on))
        expect(lesson.page.locator(f"#{tone}")).to_have_attribute("aria-pressed", str(on).lower())


def test_the_loop_runs_at_half_and_at_a_quarter_of_the_speed(lesson: Lesson) -> None:
    """The speed can be chosen while it sounds, and the loop goes on."""
    open_panel(lesson.page, lesson.hands, "hear")
    use(lesson.page, lesson.hands, "loop")
    lesson.server.wait_for("quiet")
    choose(lesson.page, lesson.hands, "speed", "0.25")
    # Longer than one turn of the loop: half a second at 25 % and its rest.
    lesson.page.wait_for_timeout(2600)
    assert lesson.server.asked("quiet") == [{"is": "do", "what": "quiet", "on": True}]
    assert lesson.page.get_attribute("#loop", "aria-pressed") == "true"


def test_the_reference_tone_is_moved(lesson: Lesson) -> None:
    """The slider moves the sounding tone and its line on every map; its cents are said beside it."""
    open_panel(lesson.page, lesson.hands, "hear")
    use(lesson.page, lesson.hands, "reference")
    lesson.wait_shared("reference", 350)
    slide(lesson.page, lesson.hands, "reference-cents")
    lesson.wait_shared("reference", 440)
    assert lesson.page.inner_text("#reference-said") == "440 cents"


def test_the_loudness_is_set(lesson: Lesson) -> None:
    """It begins at one half of its way, which is quiet, and can be moved; a caution stands beside it."""
    open_panel(lesson.page, lesson.hands, "hear")
    assert lesson.page.input_value("#loudness") == "0.5"
    assert "quietly" in lesson.page.inner_text("#caution")
    slide(lesson.page, lesson.hands, "loudness")
    assert lesson.page.input_value("#loudness") == "1"


def test_with_headphones_the_microphone_listens_on(lesson: Lesson) -> None:
    """Once they are ticked the drone asks for no pause, and a pause that lasts is ended."""
    open_panel(lesson.page, lesson.hands, "hear")
    use(lesson.page, lesson.hands, "drone")
    lesson.server.wait_for("quiet")
    use(lesson.page, lesson.hands, "headphones")
    lesson.server.wait_for("quiet", lambda said: [one["on"] for one in said] == [True, False])
    use(lesson.page, lesson.hands, "drone")
    use(lesson.page, lesson.hands, "drone")
    expect(lesson.page.locator("#drone")).to_have_attribute("aria-pressed", "true")
    assert len(lesson.server.asked("quiet")) == 2


def test_the_picture_is_hidden_and_shown(lesson: Lesson) -> None:
    """Hidden, neither map nor words can be seen, and a screen reader is not told the note either."""
    open_panel(lesson.page, lesson.hands, "lesson")
    use(lesson.page, lesson.hands, "hide")
    lesson.wait_shared("hidden", value=True)
    lesson.server.show(*frames(2, 4.0, 0.2, lambda _: 352.0), ended(4.0, 0.2, "a secret"), silence(4.3))
    assert lesson.page.is_hidden("#map")
    assert lesson.page.is_hidden("#words")
    assert "hidden" in lesson.page.inner_text("#cover")
    use(lesson.page, lesson.hands, "hide")
    lesson.page.wait_for_selector("#map:not([hidden])")
    assert "a secret" not in lesson.page.inner_text("body")


def test_the_picture_is_shown_only_after_the_note(lesson: Lesson) -> None:
    """While a note sounds the picture is covered; once it has ended its way is there."""
    open_panel(lesson.page, lesson.hands, "lesson")
    use(lesson.page, lesson.hands, "after")
    lesson.wait_shared("after", value=True)
    lesson.server.show(*frames(2, 4.0, 0.2, lambda _: 352.0))
    assert lesson.page.is_hidden("#map")
    lesson.server.show(ended(4.0, 0.2), silence(4.3))
    assert lesson.page.is_visible("#map")


def test_two_attempts_stand_side_by_side(lesson: Lesson) -> None:
    """Each attempt keeps its own way, in few enough numbers for the viewers, and both are drawn."""
    open_panel(lesson.page, lesson.hands, "lesson")
    use(lesson.page, lesson.hands, "keep-1")
    lesson.server.show(*frames(2, 4.0, 0.5, lambda _: 352.0), ended(4.0, 0.5), silence(4.6))
    use(lesson.page, lesson.hands, "keep-2")
    use(lesson.page, lesson.hands, "beside")
    lesson.wait_shared("beside", value=True)
    first, second = lesson.server.asked("share")[-1]["view"]["attempts"]
    assert [cents for _, cents in second[0]] == [352] * len(second[0])
    assert first[0][0][1] == 318
    assert first[0][-1][1] == pytest.approx(released(0.6), abs=3.0)
    assert 20 <= len(first[0]) <= 60
    # What was kept before is no part of the second attempt.
    assert (len(first), len(second)) == (1, 1)


def test_the_harp_is_changed(lesson: Lesson) -> None:
    """The key that is chosen is asked for, whether it is in the set or not."""
    open_panel(lesson.page, lesson.hands, "harp")
    for key in ("A", "low-F"):
        choose(lesson.page, lesson.hands, "harps", key)
        use(lesson.page, lesson.hands, "change")
        lesson.server.wait_for("harp", _last("harp", key))


def test_the_synth_is_silenced(lesson: Lesson) -> None:
    """Panic is one press away once its panel is open."""
    open_panel(lesson.page, lesson.hands, "harp")
    use(lesson.page, lesson.hands, "panic")
    assert lesson.server.wait_for("panic") == [{"is": "do", "what": "panic"}]


def test_the_look_is_chosen(lesson: Lesson) -> None:
    """Dark and light can be had whatever the system says, and the system's again."""
    open_panel(lesson.page, lesson.hands, "keys")
    seen = []
    for look in ("light", "dark", "auto"):
        choose(lesson.page, lesson.hands, "look", look)
        seen.append(lesson.page.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert seen[0] != seen[1] == seen[2]


def test_the_tools_are_put_away_and_fetched(lesson: Lesson) -> None:
    """What is left of them is the one button that brings them back."""
    open_panel(lesson.page, lesson.hands, "lesson")
    use(lesson.page, lesson.hands, "tools-away")
    assert lesson.page.is_hidden("#arm")
    assert lesson.page.is_hidden("#panel-lesson")
    use(lesson.page, lesson.hands, "tools-away")
    assert lesson.page.is_visible("#arm")


@pytest.mark.parametrize("clicked", ["hold", "keys-on", "tools-away"])
def test_the_space_bar_listens_or_not_whatever_was_clicked(lesson: Lesson, clicked: str) -> None:
    """It does not press what was clicked once more."""
    open_panel(lesson.page, "mouse", "keys")
    state = "control => [control.checked, control.getAttribute('aria-pressed'), control.getAttribute('aria-expanded')]"
    before = lesson.page.eval_on_selector(f"#{clicked}", state)
    for back in (False, True):
        lesson.page.click(f"#{clicked}")
        # The page shows a change with the next picture.
        now = f"({state})(document.querySelector('#{clicked}'))"
        lesson.page.wait_for_function(f"([then, back]) => (`${{{now}}}` === `${{then}}`) === back", arg=[before, back])
    for times in (1, 2):
        lesson.page.keyboard.press("Space")
        lesson.server.wait_for("arm", _so_many(times))
    assert lesson.page.eval_on_selector(f"#{clicked}", state) == before
    assert len(lesson.server.asked("arm")) == 2


def test_single_keys_can_be_switched_off(lesson: Lesson) -> None:
    """WCAG 2.2, 2.1.4: a key alone that does something can be turned off; the button still works."""
    open_panel(lesson.page, lesson.hands, "keys")
    use(lesson.page, lesson.hands, "keys-on")
    lesson.page.keyboard.press("h")
    use(lesson.page, lesson.hands, "hold")
    lesson.wait_shared("held", value=True)
    # The space bar is the button's again.
    lesson.page.focus("#hold")
    lesson.page.keyboard.press("Space")
    lesson.wait_shared("held", value=False)
    assert lesson.server.asked("arm") == []
