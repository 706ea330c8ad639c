"""The real board on the sampled phrase, in real Chromium: what the page says is what the follower heard, and in time.

The truth of the cents is ``curve.csv`` of the same sound transcribed (shared/take-format.md), where every frame is a
row and none is lost on a busy machine; that of the delays the board's own count: from the sound's coming in until the
page has drawn it (shared/board-messages.md).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Browser, Page, expect

from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings
from main_job.board_run import BoardRun, board_run, crowd, lateness, stalling
from main_job.chromium import chromium
from main_job.take_files import Curve, read_curve
from sounds.sampled import sampled

#: Silence before the phrase, which begins with the first page; and after it, in which the last note is seen to end.
BEFORE_S, AFTER_S = 2.0, 3.0
WANTED_MS = 60.0
TURNS = 4
LOOK_S = 9.0
WITHIN_CENTS = 2.0
TRIES = 3
MEDIAN_S, YOUNGEST_S = 0.15, 0.1
#: The beginnings of a median are tried so far apart; times on the page are rounded to a millisecond.
STEP_S, ROUNDED_S = 0.002, 0.00051
PATIENCE_MS = 60_000
#: Keeps what the page says with the moment it says it of, and its connection, to ask for the delays on.
WATCHED = """
window.said = [];
window.lines = [];
const Line = WebSocket;
window.WebSocket = class extends Line { constructor(...words) { super(...words); lines.push(this); } };
addEventListener("DOMContentLoaded", () => {
  const cents = document.getElementById("cents");
  const keep = () => said.push({ at: Number(cents.dataset.at), middle: cents.dataset.middle === "true",
    text: cents.textContent, words: document.getElementById("words").textContent });
  new MutationObserver(keep).observe(cents, { attributeFilter: ["data-at"] });
});
"""
DELAYS = """new Promise((told) => {
  const line = lines.at(-1);
  line.addEventListener("message", ({ data }) => JSON.parse(data).is === "delays" && told(JSON.parse(data).page));
  line.send(JSON.stringify({ is: "ask", what: "delays" }));
})"""


@dataclass(frozen=True)
class Performance:
    """What the page said while the phrase was played, and the curve of the same sound."""

    said: list[dict[str, Any]]
    curve: Curve


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for this file, closed after it."""
    with chromium() as running:
        yield running


@contextmanager
def empty_page(browser: Browser) -> Iterator[Page]:
    """A page that is there before anything is played: on a busy machine that alone takes seconds."""
    with browser.new_context(viewport={"width": 1024, "height": 768}) as context:
        yield context.new_page()


@pytest.fixture(scope="module")
def phrase(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sampled phrase with silence around it."""
    sound = sampled("phrase", "C")
    path = tmp_path_factory.mktemp("sound") / "phrase.wav"
    before, after = (np.zeros(round(seconds * sound.rate)) for seconds in (BEFORE_S, AFTER_S))
    soundfile.write(path, np.concatenate([before, sound.samples, after]), sound.rate, subtype="PCM_24")
    return path


def watched(page: Page, board: BoardRun) -> Page:
    """The board's page, watched."""
    page.add_init_script(WATCHED)
    page.goto(f"http://127.0.0.1:{board.port}/")
    expect(page.locator("#lamp-armed")).to_have_text("listening", timeout=PATIENCE_MS)
    return page


@pytest.fixture(scope="module")
def performance(browser: Browser, phrase: Path, tmp_path_factory: pytest.TempPathFactory) -> Performance:
    """The whole phrase, seen from its first note on: played again where the page was not there in time."""
    for _ in range(TRIES):
        seen = _performance(browser, phrase, tmp_path_factory.mktemp("board"))
        if seen.said[0]["at"] < BEFORE_S:
            return seen
    raise AssertionError("the page was never there before the first note")


def _performance(browser: Browser, phrase: Path, folder: Path) -> Performance:
    """What the page says of the phrase while it is played once."""
    with empty_page(browser) as page, board_run(folder, "--file", str(phrase), "--harp", "C") as board:
        watched(page, board)
        board.process.wait(PATIENCE_MS / 1000)
        said = page.evaluate("said")
    settings = load_settings("classroom", ["harp.key=C"])
    return Performance(said, read_curve(transcribe_file(phrase, folder, settings).folder))


def said_cents(text: str) -> float | None:
    """The cents in the page's own text, None where it says none."""
    found = re.search(r"(\d+) cents (above|below) G", text)
    return None if found is None else float(found[1]) * (1.0 if found[2] == "above" else -1.0)


def heard_cents(curve: Curve, at: float, *, middle: bool) -> tuple[float, float]:
    """From where to where the follower heard the pitch at a moment (it is rounded), or the median of the time up to it.

    The median is that of the last 150 ms, or of the note's own where that is younger, 100 ms at least.
    """
    sounding = curve.hz > 0.0
    if not middle:
        heard = curve.cents[sounding & (np.abs(curve.time_s - at) <= ROUNDED_S)]
        return float(np.min(heard)), float(np.max(heard))
    up_to = sounding & (curve.time_s < at + ROUNDED_S)
    begins = np.arange(at - MEDIAN_S, at - YOUNGEST_S, STEP_S)
    medians = [float(np.median(curve.cents[up_to & (curve.time_s > begin)])) for begin in begins]
    return min(medians), max(medians)


def test_the_cents_on_the_page_are_those_of_the_curve(performance: Performance) -> None:
    """Every number of cents that the page has said lies within 2 cents of ``curve.csv`` at its moment."""
    told = [(said, cents) for said in performance.said if (cents := said_cents(said["text"])) is not None]
    assert len(told) > 25
    for said, cents in told:
        low, high = heard_cents(performance.curve, said["at"], middle=said["middle"])
        # The page says cents above the nearest root, the curve above the lowest.
        above = [cents + 1200.0 * octave for octave in range(-1, 4)]
        assert any(low - WITHIN_CENTS <= one <= high + WITHIN_CENTS for one in above), (said, low, high)


def test_the_whole_phrase_is_seen(performance: Performance) -> None:
    """The page has shown the root, the fifth, the fourth and a blue third of the phrase in words."""
    words = {said["words"].split(",")[0] for said in performance.said}
    assert {"root", "third", "fourth", "fifth"} <= words
    assert any(said["words"].endswith(", blue") for said in performance.said)


def _delays(page: Page, board: BoardRun) -> dict[str, float]:
    """How late the page's pictures of the phrase were, in ms."""
    watched(page, board)
    page.wait_for_timeout(1000.0 * LOOK_S)
    delays: dict[str, float] = page.evaluate(DELAYS)
    return delays


@contextmanager
def _others(board: BoardRun, more: int) -> Iterator[None]:
    """So many more pages look on meanwhile, each a good listener."""
    with crowd(board.port, LOOK_S + 4.0, more) if more else nullcontext():
        yield


@pytest.mark.parametrize("more", [0, 30])
def test_the_sound_is_drawn_within_60_ms(
    browser: Browser, phrase: Path, tmp_path: Path, more: int, record_property: Callable[[str, object], None]
) -> None:
    """95 of 100 moments of the sound, on a page alone and beside thirty more; three tries are given.

    Other programs may run beside this: how late they wake a process that sleeps is allowed for at each turn of a moment
    (engine, board, page, board again), as in ``test_board_delay``.
    """
    for attempt in range(TRIES):
        arguments = ("--file", str(phrase), "--harp", "C")
        with (
            empty_page(browser) as page,
            board_run(tmp_path / str(attempt), *arguments) as board,
            lateness() as machine,
            _others(board, more),
        ):
            delays = _delays(page, board)
        allowed_ms = WANTED_MS + TURNS * machine.p95_ms
        record_property(f"delays_ms_{attempt}", delays)
        record_property(f"allowed_ms_{attempt}", allowed_ms)
        assert delays["count"] > 300
        if delays["p95"] <= allowed_ms:
            break
    assert delays["p95"] <= allowed_ms


@pytest.mark.parametrize("more", [0, 30])
def test_a_stall_of_200_ms_is_caught(browser: Browser, phrase: Path, tmp_path: Path, more: int) -> None:
    """The board's process stands still for 200 ms once a second: the same count, allowed as much, shows it."""
    with (
        empty_page(browser) as page,
        board_run(tmp_path, "--file", str(phrase), "--harp", "C") as board,
        lateness() as machine,
        _others(board, more),
        stalling(board.pid()),
    ):
        late_ms = _delays(page, board)["p95"]
    assert late_ms > WANTED_MS + TURNS * machine.p95_ms
