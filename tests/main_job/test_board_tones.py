"""The sounds of the board's page, rendered by Chromium's own WebAudio and measured by Praat (praat-parselmouth)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Page, expect

from main_job.board_double import SETUP, board_double
from main_job.board_notes import silence
from main_job.chromium import chromium, opened
from sounds.praat import praat_curve

RATE = 48000
ROOT_HZ = 391.995
#: Renders a curve as the page would sing it, without its master gain; gives the samples and the curve.
RENDER = """async ([name, setup, tempo, rate]) => {
  const { modelCurve, lengthOf } = await import("/page/models.js");
  const { singStroke } = await import("/page/tones.js");
  const curve = modelCurve(name, setup, tempo);
  const context = new OfflineAudioContext(1, Math.ceil((lengthOf(curve) + 0.1) * rate), rate);
  for (const { at, points } of curve) singStroke(context, context.destination, setup.root_hz, points, at);
  const sound = await context.startRendering();
  return { curve, samples: Array.from(sound.getChannelData(0)) };
}"""


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    """One page for this file."""
    with chromium() as browser, board_double() as server, opened(browser, server.address) as shown:
        yield shown


def sung(page: Page, model: str, tempo: int = 60) -> tuple[list[dict[str, Any]], NDArray[np.float64]]:
    """The strokes of a model and what they sound like."""
    rendered = page.evaluate(RENDER, [model, dict(SETUP), tempo, RATE])
    return rendered["curve"], np.asarray(rendered["samples"], dtype=np.float64)


def heard_cents(samples: NDArray[np.float64], at: float) -> float:
    """Cents above the root at a moment, by Praat."""
    times, hz = praat_curve(samples.astype(np.float32), RATE, floor_hz=300.0, ceiling_hz=700.0)
    return float(1200.0 * np.log2(hz[np.argmin(np.abs(times - at))] / ROOT_HZ))


#: Moments of each model at 60 beats a minute, in seconds, and the cents that stand there in the setup.
MOMENTS = {
    "straight": [(0.5, 400.0), (1.2, 400.0)],
    "minor": [(0.5, 300.0), (1.2, 300.0)],
    "blue": [(0.5, 350.0), (1.2, 350.0)],
    # Begun at the lower edge of the blue zone, straight one beat later.
    "released": [(0.1, 315.0), (0.575, 357.5), (1.3, 400.0)],
    "tongued": [(0.25, 400.0), (0.75, 375.0), (1.25, 350.0), (1.75, 325.0), (2.25, 300.0)],
    "turns": [(0.25, 350.0), (0.75, 0.0), (1.25, 350.0), (1.75, 0.0), (2.25, 350.0), (2.75, 0.0)],
}


@pytest.mark.parametrize("model", list(MOMENTS))
def test_a_model_sounds_as_it_says(page: Page, model: str) -> None:
    """At each moment Praat hears the cents that the model has there, within 2 cents."""
    _, samples = sung(page, model)
    for at, cents in MOMENTS[model]:
        assert heard_cents(samples, at) == pytest.approx(cents, abs=2.0), at


def test_the_tempo_is_that_of_the_release(page: Page) -> None:
    """At twice the tempo the release takes half the time."""
    _, samples = sung(page, "released", tempo=120)
    assert heard_cents(samples, 0.575 / 2) == pytest.approx(357.5, abs=3.0)
    assert heard_cents(samples, 0.65) == pytest.approx(400.0, abs=2.0)


def test_the_tone_is_reed_like_and_band_limited(page: Page) -> None:
    """The second harmonic is the stronger one (Cottingham & Wolff 2015), and nothing sounds between harmonics."""
    _, samples = sung(page, "straight")
    piece = samples[RATE // 2 : RATE] * np.hanning(RATE // 2)
    level = 20.0 * np.log10(np.abs(np.fft.rfft(piece)) + 1e-12)
    hz = np.fft.rfftfreq(RATE // 2, 1.0 / RATE)
    tone = ROOT_HZ * 2.0 ** (400.0 / 1200.0)
    first, second, third = (level[np.argmin(np.abs(hz - number * tone))] for number in (1, 2, 3))
    assert 1.0 < second - first < 6.0
    assert third < second
    # Aliased partials would fall between the harmonics; a naive sawtooth has them at -40 dB.
    away = np.abs(hz / tone - np.round(hz / tone)) * tone > 30.0
    assert np.max(level[away & (hz > 100.0)]) < second - 70.0


def test_a_stroke_begins_and_ends_without_a_click(page: Page) -> None:
    """It comes up over 30 ms and dies away to nothing."""
    (stroke,), samples = sung(page, "minor")
    end = round(stroke["points"][-1][0] * RATE)
    settled = np.max(np.abs(samples[RATE // 4 : RATE // 2]))
    assert np.max(np.abs(samples[: RATE // 200])) < 0.25 * settled
    assert np.max(np.abs(samples[end - RATE // 200 : end])) < 0.2 * settled
    assert not np.any(samples[end + 128 :])


def test_it_starts_quiet(page: Page) -> None:
    """As the page is opened a tone's peak is at most -26 dB of full scale."""
    expect(page.locator("#key")).to_have_text("C")
    page.keyboard.press("d")
    loudest = page.evaluate(
        """async () => {
          const { Tones } = await import("/page/tones.js");
          const tones = new Tones(() => {});
          await tones.hold("drone", 392);
          const meter = new AnalyserNode(tones.context, { fftSize: 2048 });
          tones.master.connect(meter);
          await new Promise((done) => setTimeout(done, 800));
          const samples = new Float32Array(2048);
          meter.getFloatTimeDomainData(samples);
          tones.stop();
          return Math.max(...samples.map(Math.abs));
        }"""
    )
    page.keyboard.press("Escape")
    assert 0.001 < loudest < 10.0 ** (-26.0 / 20.0)


@pytest.mark.parametrize("hz", [2400.0, 1800.0])
def test_a_click_is_short_and_has_its_pitch(page: Page, hz: float) -> None:
    """It begins when it should, most of it is over after 20 ms, all of it after 30, and it is as high as it says."""
    samples = np.asarray(
        page.evaluate(
            """async ([hz, rate]) => {
              const { click } = await import("/page/tones.js");
              const context = new OfflineAudioContext(1, rate / 4, rate);
              click(context, context.destination, hz, 0.1);
              return Array.from((await context.startRendering()).getChannelData(0));
            }""",
            [hz, RATE],
        )
    )
    begin, loud = round(0.1 * RATE), np.max(np.abs(samples))
    assert not np.any(samples[: begin - 128])
    assert 0.7 < loud <= 1.0
    assert np.max(np.abs(samples[begin + round(0.02 * RATE) :])) < 0.05 * loud
    assert not np.any(samples[begin + round(0.03 * RATE) + 128 :])
    spectrum = np.abs(np.fft.rfft(samples, 1 << 16))
    assert np.fft.rfftfreq(1 << 16, 1.0 / RATE)[np.argmax(spectrum)] == pytest.approx(hz, abs=40.0)


def test_a_played_note_is_sung_again_at_half_and_a_quarter_of_its_speed(page: Page) -> None:
    """The last half second is stretched twice and four times; its cents stay."""
    for speed in (0.5, 0.25):
        (stroke,) = page.evaluate(
            """async (speed) => {
              const { slowed } = await import("/page/models.js");
              const points = Array.from({ length: 200 }, (_, i) => [5 + i * 0.005, 300 + i / 2, false]);
              return slowed({ begin: 5, points }, 0.5, speed);
            }""",
            speed,
        )
        first, last = stroke["points"][0], stroke["points"][-1]
        assert last[0] - first[0] == pytest.approx(0.5 / speed)
        assert (first[1], last[1]) == (349.5, 399.5)


def test_a_drone_follows_the_harp_and_ends_where_none_is_known(page: Page) -> None:
    """On an A harp its root is E4, 329.628 Hz (equal temperament, A4 = 440)."""
    browser = page.context.browser
    assert browser is not None
    with board_double() as server, opened(browser, server.address) as shown:
        shown.wait_for_selector("#tools:not([hidden])")
        shown.evaluate(
            """() => {
              window.moved = [];
              const move = AudioParam.prototype.setTargetAtTime;
              AudioParam.prototype.setTargetAtTime = function (...how) {
                moved.push(how[0]);
                return move.apply(this, how);
              };
            }"""
        )
        drone = shown.locator("#drone")
        shown.keyboard.press("d")
        shown.wait_for_function("moved.length > 0")
        server.show({"is": "setup", "setup": {**SETUP, "harp": "A", "root": "E", "root_hz": 329.628}}, silence(0.1))
        assert 329.628 in shown.evaluate("moved")
        expect(drone).to_have_attribute("aria-pressed", "true")
        server.show({"is": "setup", "setup": {**SETUP, "harp": None, "root": None, "root_hz": None}}, silence(0.2))
        expect(drone).to_have_attribute("aria-pressed", "false")


def test_a_loudspeaker_that_does_not_start_leaves_the_microphone_open(page: Page) -> None:
    """A browser may keep all sound waiting; a tone that is no longer wanted by then pauses nothing for long."""
    browser = page.context.browser
    assert browser is not None
    with board_double() as server, opened(browser, server.address) as shown:
        shown.wait_for_selector("#tools:not([hidden])")
        shown.evaluate(
            """() => {
              AudioContext.prototype.resume = () => new Promise((done) => { window.begin = { done }; });
            }"""
        )
        shown.keyboard.press("m")
        shown.wait_for_function("() => Boolean(window.begin)")
        server.show(silence(0.1))
        assert server.asked("quiet") == []
        shown.keyboard.press("Escape")
        shown.evaluate("() => begin.done()")
        shown.wait_for_timeout(700)
        assert [asked["on"] for asked in server.asked("quiet")] in ([], [True, False])


def test_escape_stops_all_sound_from_wherever_one_writes(page: Page) -> None:
    """Also while the tempo is being written, and what is still to be clicked."""
    page.keyboard.press("d")
    expect(page.locator("#drone")).to_have_attribute("aria-pressed", "true")
    page.click("[aria-controls=panel-hear]")
    page.focus("#tempo")
    page.keyboard.press("Escape")
    expect(page.locator("#drone")).to_have_attribute("aria-pressed", "false")
    page.click("[aria-controls=panel-hear]")
    left = page.evaluate(
        """async () => {
          const { Tones } = await import("/page/tones.js");
          const tones = new Tones(() => {});
          await tones.count(4, 0.5, 1);
          tones.stop();
          return tones.clicks.length;
        }"""
    )
    assert left == 0
