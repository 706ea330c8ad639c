"""The exercises on the board's page, in real Chromium: by mouse and by keyboard, and once with the real board."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Browser, Page, expect

from main_job.board_double import BoardDouble, Message, board_double
from main_job.board_exercise import BEGUN, MARKS, OVER
from main_job.board_hands import Hands, choose, open_panel, reach, use
from main_job.board_notes import silence
from main_job.board_run import board_run
from main_job.chromium import chromium, opened
from sounds.students import FAULTY, FIRST_S, TEMPO, played_by

PATIENCE_MS = 60_000
#: Silence before the student plays: the panel is filled in meanwhile, on a busy machine too.
BEFORE_S = 12
#: The letters of an element, pixels.
SIZE = "element => parseFloat(getComputedStyle(element).fontSize)"
#: Presses Start by itself when the stream has come to a moment, and keeps what the board then says, and by the page's
#: own reckoning when the first note of the exercise is due in the stream.
PRESSING = """
window.told = [];
const Line = WebSocket;
window.WebSocket = class extends Line {
  constructor(...words) {
    super(...words);
    this.addEventListener("message", ({ data }) => {
      const message = JSON.parse(data);
      if (message.is === "drill" || message.is === "marks") told.push(message);
      if (message.is === "now" && message.at >= %f && !window.pressed) {
        window.pressed = message.at;
        document.getElementById("drill").click();
      }
      if (message.is === "now") window.latest = { at: message.at, ms: performance.now() };
    });
  }
  send(text) {
    const said = JSON.parse(text);
    if (said.what === "drill") {
      const now = latest.at + (performance.now() - latest.ms) / 1000;
      window.due = now + said.in + said.latency + (4 * 60) / said.tempo;
    }
    super.send(text);
  }
};
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for this file, closed after it."""
    with chromium() as running:
        yield running


@pytest.fixture
def server() -> Iterator[BoardDouble]:
    """A stand-in for the server, whose pages are the teacher's."""
    with board_double() as running:
        yield running


def _teacher(server: BoardDouble, page: Page) -> None:
    """The teacher's page is there."""
    page.wait_for_selector("#tools:not([hidden])")
    server.show(silence(0.1))


def _write(page: Page, hands: Hands, field: str, text: str) -> None:
    """Write ``text`` in place of what stands there."""
    if hands == "mouse":
        page.click(f"#{field}", click_count=3)
    else:
        reach(page, field)
        page.keyboard.press("Control+A")
    page.keyboard.type(text)


@pytest.mark.parametrize("hands", ["mouse", "keyboard"])
def test_an_exercise_is_begun_and_broken_off(browser: Browser, server: BoardDouble, hands: Hands) -> None:
    """As it stands in the fields; counted in with clicks and the microphone open, or for the eye alone."""
    with opened(browser, server.address) as page:
        _teacher(server, page)
        open_panel(page, hands, "drill")
        choose(page, hands, "exercise", "blue")
        expect(page.locator("#drill-how")).to_have_text("Hold the third in the blue zone for three beats.")
        _write(page, hands, "drill-tempo", "120")
        _write(page, hands, "player", "Ada")
        use(page, hands, "drill")
        (asked,) = server.wait_for("drill")
        latency = asked.pop("latency")
        wanted = {"is": "do", "what": "drill", "on": True, "exercise": "blue", "tempo": 120, "player": "Ada", "in": 1}
        assert asked == wanted
        assert 0.0 <= latency <= 2.0
        assert server.asked("quiet") == []
        server.show(BEGUN, silence(0.2))
        expect(page.locator("#drill-said")).to_have_text("Stop")
        expect(page.locator("#count-how")).to_be_visible()
        use(page, hands, "drill")
        assert server.wait_for("drill", lambda said: len(said) == 2)[-1] == {"is": "do", "what": "drill", "on": False}
        server.show({**OVER, "why": "The harp was changed."}, silence(0.3))
        expect(page.locator("#count")).to_be_hidden()
        expect(page.locator("#drill-how")).to_have_text("The harp was changed.")
        use(page, hands, "clicks")
        use(page, hands, "drill")
        assert server.wait_for("drill", lambda said: len(said) == 3)[-1] == {**wanted, "latency": None}


def test_a_field_that_cannot_be_is_not_sent(browser: Browser, server: BoardDouble) -> None:
    """A tempo that nobody plays, none, and half a beat; a name that no file may have: said what may stand there."""
    with opened(browser, server.address) as page:
        _teacher(server, page)
        open_panel(page, "mouse", "drill")
        allowed = page.locator("#drill-allowed")
        for never in ("900", "29", "", "72.5"):
            page.fill("#drill-tempo", never)
            use(page, "mouse", "drill")
            assert page.evaluate("document.activeElement.id") == "drill-tempo"
            expect(allowed).to_have_text("Beats a minute: a whole number from 30 to 200")
        page.fill("#drill-tempo", "60")
        use(page, "mouse", "drill")
        expect(allowed).to_be_hidden()
        for nobody in ("", "  ", "../me", "-me"):
            page.fill("#player", nobody)
            use(page, "mouse", "drill")
            assert page.evaluate("document.activeElement.id") == "player"
            expect(allowed).to_contain_text("a letter or digit first")
        page.fill("#player", " \u00c9va \u092e\u0940 2 ")
        use(page, "mouse", "drill")
        asked = server.wait_for("drill", lambda said: len(said) == 2)
        assert [(each["tempo"], each["player"]) for each in asked] == [(60, "me"), (60, "\u00c9va \u092e\u0940 2")]


def test_a_refusal_is_large_and_gone_with_the_next_try(browser: Browser, server: BoardDouble) -> None:
    """Of an exercise and of a harp."""
    with opened(browser, server.address) as page:
        _teacher(server, page)
        open_panel(page, "mouse", "drill")
        server.show(
            {**OVER, "why": "No player has that name."}, {"is": "saying", "text": "No such harp."}, silence(0.3)
        )
        expect(page.locator("#drill-how")).to_have_text("No player has that name.")
        for words in ("#drill-how", "#saying"):
            assert page.eval_on_selector(words, SIZE) >= 20.0
        use(page, "mouse", "drill")
        expect(page.locator("#drill-how")).not_to_have_text("No player has that name.")
        expect(page.locator("#saying")).to_have_text("")


def test_an_exercise_that_ends_with_the_line_is_told(browser: Browser, server: BoardDouble) -> None:
    """A board that is started again knows nothing of it."""
    with opened(browser, server.address) as page:
        _teacher(server, page)
        open_panel(page, "mouse", "drill")
        server.show(BEGUN, silence(0.2))
        expect(page.locator("#drill-said")).to_have_text("Stop")
        server.cut()
        expect(page.locator("#drill-how")).to_have_text("The line to the board broke, and the exercise with it.")


@pytest.mark.parametrize("role", ["teacher", "viewer"])
def test_the_beat_is_counted_on_every_page(browser: Browser, role: str) -> None:
    """Four beats, large, with what is to be played; then those of the exercise, small, and the map is free."""
    with board_double(role) as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        page.evaluate(
            """() => {
              window.counted = [];
              const count = document.getElementById("count");
              const seen = () => counted.push(`${count.dataset.counting} ${count.innerText.split(/\\s/)[0]}`);
              new MutationObserver(seen).observe(count, { childList: true, subtree: true, characterData: true });
            }"""
        )
        server.show({**BEGUN, "tempo": 200}, silence(0.2))
        expect(page.locator("#count-how")).to_be_visible()
        size = page.eval_on_selector("#count-beat", "beat => parseFloat(getComputedStyle(beat).fontSize)")
        assert size >= 72.0
        expect(page.locator("#count")).to_have_attribute("data-counting", "false")
        expect(page.locator("#count-how")).to_be_hidden()
        page.wait_for_timeout(3000)
        beats = list(dict.fromkeys(page.evaluate("counted")))
        assert beats[:8] == ["true …", *(f"true {n}" for n in (1, 2, 3, 4)), *(f"false {n}" for n in (1, 2, 3))]
        server.show(OVER, silence(0.4))
        expect(page.locator("#count")).to_be_hidden()


def test_the_marks_stand_in_place_of_the_map(browser: Browser) -> None:
    """For teacher and viewers, with a plot; the teacher's key brings back the map for all, and a new round does."""
    with board_double("viewer") as server, opened(browser, server.address) as page:
        expect(page.locator("#key")).to_have_text("C")
        server.show(BEGUN, silence(0.2), OVER, MARKS, silence(0.3))
        expect(page.locator("#result-next")).to_have_text(MARKS["next"])
        expect(page.locator("#result-off")).to_have_text(MARKS["off"])
        assert page.locator("#result-notes li").all_inner_texts() == MARKS["notes"]
        expect(page.locator("#result-title")).to_have_text("Blue, 120 beats a minute · Ada")
        assert page.locator("#plot circle").count() == 3
        heights = page.eval_on_selector_all("#plot circle", "dots => dots.map(dot => Number(dot.getAttribute('cy')))")
        assert heights == sorted(heights)
        assert page.is_hidden("#map")
        expect(page.locator("#told")).to_have_text(MARKS["next"])
        view = {"hidden": False, "after": False, "held": False, "under": False, "beside": False, "replays": 0}
        server.show({"is": "shared", "view": {**view, "marks": False}}, silence(0.4))
        expect(page.locator("#map")).to_be_visible()
        server.show({"is": "shared", "view": {**view, "marks": True}}, silence(0.5), BEGUN, silence(0.6))
        expect(page.locator("#result")).to_be_hidden()


def _shares_marks(shown: bool, said: list[Message]) -> bool:
    """Whether the view that was shared last shows the marks."""
    return bool(said[-1]["view"]["marks"] is shown)


def test_the_marks_are_large_on_a_projector(browser: Browser, server: BoardDouble) -> None:
    """On 1024 x 768 notes are told in letters of 26 pixels; what does not fit can be scrolled to by keyboard."""
    notes = [f"began {12 * step} cents under straight; {MARKS['notes'][1].partition('; ')[2]}" for step in range(8)]
    with opened(browser, server.address) as page:
        _teacher(server, page)
        words = page.eval_on_selector("#words", SIZE)
        server.show({**MARKS, "notes": notes}, silence(0.3))
        expect(page.locator("#result")).to_be_visible()
        assert page.eval_on_selector("#result-next", SIZE) >= words
        assert page.eval_on_selector("#result-notes", SIZE) >= 26.0
        expect(page.locator("#result-notes li").first).to_be_in_viewport(ratio=1.0)
        reach(page, "result")
        page.keyboard.press("End")
        expect(page.locator("#result-notes li").last).to_be_in_viewport(ratio=1.0)


@pytest.mark.parametrize("hands", ["mouse", "keyboard"])
def test_the_teacher_changes_between_marks_and_map(browser: Browser, server: BoardDouble, hands: Hands) -> None:
    """There is nothing to change to before the first marks; afterwards viewers are told which of the two."""
    with opened(browser, server.address) as page:
        _teacher(server, page)
        open_panel(page, hands, "drill")
        expect(page.locator("#marks")).to_be_disabled()
        server.show(MARKS, silence(0.3))
        expect(page.locator("#result")).to_be_visible()
        for shown in (False, True):
            use(page, hands, "marks")
            server.wait_for("share", partial(_shares_marks, shown))
            expect(page.locator("#result")).to_be_visible(visible=shown)


def test_a_server_that_came_back_knows_of_no_exercise(browser: Browser, server: BoardDouble) -> None:
    """The page does not go on counting what nobody listens to."""
    with opened(browser, server.address) as page:
        _teacher(server, page)
        server.show(BEGUN, silence(0.2))
        expect(page.locator("#count")).to_be_visible()
        server.cut()
        expect(page.locator("#count")).to_be_hidden(timeout=20_000)


def test_a_recorded_student_is_told_on_the_real_board(
    browser: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Counted in by the page, judged by the board, kept in the player's file: too deep, and when."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    student = played_by(FAULTY["deep"])
    before, after = np.zeros(BEFORE_S * student.rate), np.zeros(4 * student.rate)
    soundfile.write(tmp_path / "deep.wav", np.concatenate([before, student.samples, after]), student.rate)
    first_s = BEFORE_S + FIRST_S
    # Asked for a second before the count-in, and four beats before the first note.
    asked_s = first_s - 4 * 60.0 / TEMPO - 1.0
    with (
        browser.new_context(viewport={"width": 1024, "height": 768}) as context,
        board_run(tmp_path / "board", "--file", str(tmp_path / "deep.wav"), "--harp", "C") as board,
    ):
        page = context.new_page()
        page.add_init_script(PRESSING % asked_s)
        page.goto(f"http://127.0.0.1:{board.port}/")
        open_panel(page, "mouse", "drill")
        choose(page, "mouse", "exercise", "release")
        page.fill("#drill-tempo", f"{TEMPO:g}")
        assert page.evaluate("window.pressed") is None
        expect(page.locator("#result-next")).to_be_visible(timeout=PATIENCE_MS)
        told, due_s = page.evaluate("[told, due]")
    assert [message["is"] for message in told] == ["drill", "drill", "marks"]
    assert told[-1]["next"].startswith("Next: Begin less deep")
    assert "which the sound system tells" in told[-1]["beat"]
    (kept,) = (tmp_path / "data" / "reedwire" / "drill" / "me.jsonl").read_text("utf-8").splitlines()
    notes = json.loads(kept)["notes"]
    assert [note["begin_cents"] for note in notes] == pytest.approx([245.0, 245.0], abs=8.0)
    for note in notes:
        assert note["late_s"] == pytest.approx(first_s - due_s, abs=0.06)
