"""How late a count-in comes back, of clicks that were put into a sound at a known sample."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.study.clicks import count_in
from bridge.study.exercises import COUNT_IN
from bridge.study.heard_clicks import ClickListener

RATE = 48000
FIRST_S = 1.0
#: Clicks arrive some 25 dB softer than they are played, in a room whose noise is at -60 dBFS.
COMES_BACK, NOISE = 10.0 ** (-25.0 / 20.0), 10.0 ** (-60.0 / 20.0)
#: Nobody tells a start from the beat that lies within 10 ms; this is a fifth of it.
WITHIN_S = 0.002


def heard(
    beat_s: float, delay_s: float, gain: float = COMES_BACK, room: float = NOISE, rate: int = RATE
) -> NDArray[np.float32]:
    """A count-in as the microphone hears it."""
    length_s = FIRST_S + (COUNT_IN + 1) * beat_s
    clicks = count_in(COUNT_IN, beat_s, length_s, rate, FIRST_S + delay_s)
    noise = room * np.random.default_rng(3).standard_normal(len(clicks))
    return (gain * clicks + noise).astype(np.float32)


def found_s(samples: NDArray[np.float32], beat_s: float, block: int = 256, rate: int = RATE) -> float | None:
    """The delay that is found in it."""
    listener = ClickListener(FIRST_S, beat_s, COUNT_IN, rate)
    for start in range(0, len(samples), block):
        listener.hear(start, samples[start : start + block])
    return listener.delay_s()


@pytest.mark.parametrize("tempo", [30.0, 72.0, 200.0])
@pytest.mark.parametrize("delay_s", [0.0, 0.0123, 0.087, 0.23])
def test_the_delay_is_found(tempo: float, delay_s: float) -> None:
    """Within a fifth of what nobody tells from the beat, at any tempo."""
    samples = heard(60.0 / tempo, delay_s)
    assert found_s(samples, 60.0 / tempo) == pytest.approx(delay_s, abs=WITHIN_S)


@pytest.mark.parametrize(("rate", "block"), [(44100, 441), (96000, 100), (16000, 4096)])
def test_it_does_not_hang_on_rate_or_block(rate: int, block: int) -> None:
    """Blocks that are no whole number of steps are put together."""
    assert found_s(heard(0.8, 0.1, rate=rate), 0.8, block, rate) == pytest.approx(0.1, abs=WITHIN_S)


def test_a_room_that_hums_hides_nothing() -> None:
    """Mains at -40 dBFS with its harmonics, eleven decibels louder than the clicks."""
    samples = heard(0.8, 0.1)
    times = np.arange(len(samples)) / RATE
    for harmonic in (1, 2, 3, 5):
        samples += (0.014 / harmonic * np.sin(2.0 * np.pi * 50.0 * harmonic * times)).astype(np.float32)
    assert found_s(samples, 0.8) == pytest.approx(0.1, abs=WITHIN_S)


def test_headphones_bring_nothing_back() -> None:
    """In twenty rooms nothing is taken for clicks, nor in perfect silence, nor where nothing was heard."""
    for seed in range(20):
        noise = NOISE * np.random.default_rng(seed).standard_normal(5 * RATE)
        assert found_s(noise.astype(np.float32), 0.8) is None
    assert found_s(np.zeros(5 * RATE, np.float32), 0.8) is None
    assert found_s(np.zeros(0, np.float32), 0.8) is None


def test_one_click_may_be_covered_but_not_two() -> None:
    """Somebody coughs over one of them; two alone say nothing."""
    for covered, found in ((1, 0.05), (2, None)):
        samples = heard(0.8, 0.05)
        for beat in range(covered):
            begin = round((FIRST_S + beat * 0.8 - 0.1) * RATE)
            cough = 0.1 * np.random.default_rng(beat).standard_normal(round(0.7 * RATE))
            samples[begin : begin + len(cough)] += cough.astype(np.float32)
        measured = found_s(samples, 0.8)
        assert measured == (None if found is None else pytest.approx(found, abs=WITHIN_S))


def test_clicks_out_of_time_are_no_count_in() -> None:
    """Four of them, each at another distance from its beat."""
    samples = heard(0.8, 0.0, gain=0.0)
    for beat, late_s in enumerate((0.02, 0.11, 0.25, 0.33)):
        one = heard(0.8, late_s, room=0.0)
        part = slice(round((FIRST_S + beat * 0.8) * RATE), round((FIRST_S + (beat + 0.9) * 0.8) * RATE))
        samples[part] += one[part]
    assert found_s(samples, 0.8) is None
