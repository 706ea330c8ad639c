"""The follower as a whole: pitch, octave, movement, and input that no microphone should give."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
import parselmouth
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.base.events import AudioBlock
from bridge.base.units import midi_to_hz
from bridge.follow.follower import Follower
from bridge.follow.making import make_follower
from bridge.follow.settings import AubioSettings, FollowSettings
from follow.tones import RATE, cents_off, follow_all, harmonic_tone

#: Every semitone from 100 Hz (a little under G#2) to 3.2 kHz (a little over G7).
SEMITONES = [100.0 * 2.0 ** (step / 12.0) for step in range(61)]


@pytest.mark.parametrize("hz", SEMITONES)
def test_steady_notes_are_right_within_a_cent(hz: float) -> None:
    """Every semitone from 100 Hz to 3.2 kHz is followed within 1 cent once it sounds."""
    off = cents_off(follow_all(harmonic_tone(hz), floor_hz=94.0), hz)
    assert len(off) > 250
    assert np.abs(off).max() < 1.0


@pytest.mark.parametrize("hz", [175.0, 262.0, 440.0, 784.0, 1568.0])
@pytest.mark.parametrize(
    "partials",
    [
        [0.1, 1.0, 0.6, 0.5, 0.3, 0.2],
        [0.1, 1.0, 0.1, 0.8, 0.1, 0.4],
        [1.0, 0.1, 0.05],
        [0.3, 0.2, 1.0, 0.2, 0.1, 0.6],
        [1.0],
    ],
    ids=["weak fundamental", "weak odd harmonics", "dark", "strong third", "pure"],
)
def test_no_octave_is_mistaken(hz: float, partials: list[float]) -> None:
    """However the spectrum leans, no frame is an octave, a fifth or anything else away."""
    off = cents_off(follow_all(harmonic_tone(hz, partials=partials)), hz)
    assert len(off) > 250
    assert np.abs(off).max() < 50.0
    assert np.abs(off[30:]).max() < 1.0


def test_agrees_with_praat() -> None:
    """A gliding tone reads as Praat's autocorrelation method reads it (Boersma 1993, through parselmouth)."""
    seconds = 1.0
    time = np.arange(int(seconds * RATE)) / RATE
    tone = harmonic_tone(440.0 * 2.0 ** (150.0 * np.sin(2 * np.pi * time) / 1200.0), seconds)
    frames = [frame for frame in follow_all(tone) if frame.hz > 0.0]
    praat = parselmouth.Sound(tone.astype(np.float64), RATE).to_pitch_ac(time_step=0.005, pitch_floor=200.0)
    inside = [(t, praat.get_value_at_time(t)) for t in np.arange(0.1, 0.9, 0.01)]
    ours = np.interp([t for t, _ in inside], [f.time_s for f in frames], [f.hz for f in frames])
    assert np.abs(1200.0 * np.log2(ours / np.array([hz for _, hz in inside]))).max() < 3.0


@pytest.mark.parametrize("rate", [8000, 22050, 48000])
def test_vibrato_keeps_its_depth(rate: int) -> None:
    """A 50-cent vibrato at 6 Hz keeps at least 97 % of its depth, at the instant the frames say, at any rate."""
    time = np.arange(rate) / rate
    cents = 50.0 * np.sin(2.0 * np.pi * 6.0 * time)
    tone = harmonic_tone(329.6 * 2.0 ** (cents / 1200.0), 1.0, rate=rate)
    frames = [frame for frame in follow_all(tone, rate=rate) if frame.hz > 0.0][50:]
    heard = np.array([1200.0 * np.log2(frame.hz / 329.6) for frame in frames])
    wave = np.exp(2j * np.pi * 6.0 * np.array([frame.time_s for frame in frames]))
    fit = np.linalg.lstsq(np.column_stack([wave.real, wave.imag, np.ones(len(wave))]), heard, rcond=None)[0]
    assert math.hypot(fit[0], fit[1]) == pytest.approx(50.0, rel=0.03)
    # A lag would turn the sine into a cosine: 1 ms is 0.038 rad at 6 Hz.
    assert abs(math.atan2(fit[0], fit[1])) < 0.01


def test_a_fast_bend_is_followed_not_stepped() -> None:
    """A 300-cent bend in 60 ms moves from frame to frame by no more than it really does, and arrives."""
    time = np.arange(int(0.6 * RATE)) / RATE
    along = np.clip((time - 0.25) / 0.06, 0.0, 1.0)
    tone = harmonic_tone(493.9 * 2.0 ** (-300.0 * (0.5 - 0.5 * np.cos(np.pi * along)) / 1200.0), 0.6)
    cents = cents_off(follow_all(tone), 493.9)
    steepest = 300.0 * math.pi / 2.0 / 0.06 * 64 / RATE
    assert np.abs(np.diff(cents)).max() < 1.1 * steepest
    assert cents[-1] == pytest.approx(-300.0, abs=0.5)


def test_the_delay_is_a_few_periods() -> None:
    """A frame describes an instant at most 4 ms back from 390 Hz up, at most 8 ms from 175 Hz up."""
    for hz, most_s in ((175.0, 0.008), (262.0, 0.008), (392.0, 0.004), (880.0, 0.004), (3136.0, 0.004)):
        frames = [frame for frame in follow_all(harmonic_tone(hz)) if frame.hz > 0.0]
        assert max(frame.ready_s - frame.time_s for frame in frames) <= most_s


def test_silence_and_breath_give_no_pitch() -> None:
    """Neither digital silence nor noise at the level of strong breath has a pitch."""
    noise = 0.01 * np.random.default_rng(5).standard_normal(10 * RATE)
    for samples in (np.zeros(RATE), noise):
        assert not any(frame.hz for frame in follow_all(samples.astype(np.float32), floor_hz=247.0))


@settings(max_examples=15, deadline=None)
@given(sizes=st.lists(st.integers(0, 5000), min_size=1, max_size=12))
def test_the_frames_do_not_depend_on_the_blocks(sizes: list[int]) -> None:
    """Blocks of any length, empty ones too, give the same frames as one long block."""
    tone = np.concatenate([np.zeros(1000, np.float32), harmonic_tone(415.3, 0.2), np.zeros(3000, np.float32)])
    whole = follow_all(tone, size=len(tone))
    follower = make_follower(FollowSettings(), RATE, 150.0)
    frames, start = [], 0
    for size in [*sizes, len(tone)]:
        frames += follower.follow(AudioBlock(start, RATE, tone[start : start + size]))
        start = min(len(tone), start + size)
    assert [frame.ready_s for frame in frames] == [frame.ready_s for frame in whole]
    np.testing.assert_allclose([frame.hz for frame in frames], [frame.hz for frame in whole], rtol=1e-6)


@pytest.mark.parametrize("kind", ["own", "aubio"])
@pytest.mark.parametrize("rate", [8000, 11025, 44100, 48000, 96000, 192000])
def test_any_rate_and_any_nonsense_is_survived(kind: Literal["own", "aubio"], rate: int) -> None:
    """NaN, infinity, DC, full-scale squares and odd blocks at 8 to 192 kHz give finite frames and no crash."""
    rng = np.random.default_rng(9)
    square = np.sign(np.sin(2.0 * np.pi * 441.0 * np.arange(rate // 4) / rate))
    pieces = [square, np.full(rate // 10, np.nan), np.ones(rate // 10), np.full(77, np.inf), 100.0 * square]
    samples = np.concatenate([*pieces, rng.standard_normal(rate // 10)]).astype(np.float32)
    follower = make_follower(FollowSettings(follower=kind), rate, 247.0)
    frames = follow_all(samples, size=333, rate=rate, follower=follower)
    assert frames
    for frame in frames:
        values = (frame.time_s, frame.hz, frame.level_db, frame.confidence, frame.clean, frame.bright)
        assert all(math.isfinite(value) for value in values)
        assert frame.hz == 0.0 or 200.0 < frame.hz < 3500.0
        assert frame.time_s <= frame.ready_s


@pytest.mark.parametrize("partials", [None, [0.1, 1.0, 0.6, 0.5, 0.3, 0.2]], ids=["strong", "weak fundamental"])
@pytest.mark.parametrize("rate", [8000, 11025, 16000, 22050, 32000, 44100, 96000])
def test_other_rates_are_as_right(rate: int, partials: list[float] | None) -> None:
    """Every semitone whose second partial the rate can hold reads right within 40 ms, and never an octave away."""
    every = 4 if rate > RATE else 1  # a high rate is slow, and only more of the same
    held = [hz for hz in SEMITONES[::every] if 2.0 * hz < 0.4 * rate]
    for hz in held:
        off = cents_off(follow_all(harmonic_tone(hz, 0.2, partials=partials, rate=rate), rate=rate, floor_hz=94.0), hz)
        assert len(off) > 120, hz
        assert np.abs(off).max() < 50.0, hz
        assert np.abs(off[30:]).max() < 1.0, hz


def test_lost_samples_leave_the_time_true() -> None:
    """After a gap in the sample count the frames' times jump by the gap."""
    tone = harmonic_tone(440.0, 0.2)
    follower = make_follower(FollowSettings(), RATE, 150.0)
    before = follower.follow(AudioBlock(0, RATE, tone[:4810]))
    after = follower.follow(AudioBlock(96000, RATE, tone[4810:]))
    assert before[-1].ready_s == pytest.approx(4800 / RATE)
    assert after[0].ready_s == pytest.approx((96000 + 64) / RATE)


@pytest.fixture(params=["own", "aubio"])
def follower(request: pytest.FixtureRequest) -> Follower:
    """Each follower that can be chosen."""
    chosen = FollowSettings(follower=request.param, aubio=AubioSettings(method="yinfast"))
    return make_follower(chosen, RATE, 200.0)


def test_both_followers_hear_a_tone(follower: Follower) -> None:
    """Whichever is chosen: silence is silent, the tone has its pitch, the first sound is an attack."""
    tone = np.concatenate([np.zeros(9600, np.float32), harmonic_tone(midi_to_hz(67), 0.4)])
    frames = follow_all(tone, follower=follower)
    early = [frame for frame in frames if frame.ready_s < 0.2]
    late = [frame for frame in frames if frame.ready_s > 0.3]
    assert not any(frame.hz for frame in early)
    assert np.abs(cents_off(late, midi_to_hz(67))).max() < 10.0
    assert sum(frame.attack for frame in frames) == 1
    assert all(-20.0 < frame.level_db < -8.0 for frame in late)


@pytest.mark.parametrize("rate", [48000, 96000, 192000])
def test_brightness_and_level_do_not_depend_on_the_blocks(rate: int) -> None:
    """On the highest harps too, whatever the rate, small blocks read as one long block does."""
    tone = harmonic_tone(1568.0, 0.2, rate=rate)
    readings = [
        [(frame.bright, frame.level_db) for frame in follow_all(tone, size=size, rate=rate, floor_hz=740.0)]
        for size in (64, 333, len(tone))
    ]
    np.testing.assert_allclose(readings[0], readings[2], atol=1e-6)
    np.testing.assert_allclose(readings[1], readings[2], atol=1e-6)
    assert min(bright for bright, _ in readings[0][50:]) > 0.05
