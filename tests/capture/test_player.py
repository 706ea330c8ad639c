"""The synthetic player: what it plays is what it says it plays, measured on the sound by other means."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.capture.player import Breath, Performance, PlayedNote, curve_at, perform
from bridge.capture.reed_tone import ReedVoice

RATE = 48000
QUIET = ReedVoice(breath_db=-300.0)


def play(note: PlayedNote, **options: float) -> Performance:
    """One note in a soundless room."""
    return perform([note], RATE, seed=2, room_db=-200.0, **options)


def heard_cents(performance: Performance, hz: float) -> NDArray[np.float64]:
    """Cents from ``hz`` of the fundamental alone, by the phase of the analytic signal (Gabor 1946)."""
    spectrum = np.fft.fft(performance.samples.astype(np.float64))
    ratio = np.fft.fftfreq(len(spectrum), 1.0 / RATE) / hz
    edges = np.clip(np.minimum(ratio - 0.5, 1.5 - ratio) / 0.1, 0.0, 1.0)
    phase = np.unwrap(np.angle(np.fft.ifft(spectrum * np.sin(0.5 * np.pi * edges) ** 2)))
    frequency = np.gradient(phase) * RATE / (2.0 * np.pi)
    return np.asarray(1200.0 * np.log2(np.maximum(frequency, 1.0) / hz))


def true_cents(performance: Performance, hz: float) -> NDArray[np.float64]:
    """The same from what the player says it played."""
    return np.asarray(1200.0 * np.log2(np.maximum(performance.f0_hz, 1.0) / hz))


@pytest.mark.parametrize(
    "note",
    [
        PlayedNote(0.1, 1.2, 440.0, voice=QUIET),
        PlayedNote(0.1, 1.2, 440.0, glide=((0.5, -100.0), (0.9, 0.0)), voice=QUIET),
        PlayedNote(0.1, 1.2, 440.0, vibrato_hz=5.0, vibrato_cents=50.0, vibrato_after_s=0.2, voice=QUIET),
        PlayedNote(0.1, 1.2, 440.0, wander_cents=10.0, voice=QUIET),
        PlayedNote(0.1, 1.2, 440.0, glide=((0.5, 0.0), (0.56, -300.0)), voice=replace(QUIET, fundamental=0.1)),
    ],
    ids=["steady", "release", "vibrato", "wander", "fast bend"],
)
def test_the_sounding_frequency_is_the_one_told(note: PlayedNote) -> None:
    """Between attack and release the instantaneous frequency of the fundamental follows the truth.

    The filter that isolates the fundamental blurs fast bends, so those get 5 cents, the rest half a cent.
    """
    performance = play(note)
    inside = slice(round(0.2 * RATE), round(1.25 * RATE))
    off = np.abs(heard_cents(performance, note.hz)[inside] - true_cents(performance, note.hz)[inside])
    assert np.percentile(off, 95) < 0.5
    assert off.max() < (8.0 if len(note.glide) and note.glide[-1][1] == -300.0 else 0.5)


@pytest.mark.parametrize(("rate_hz", "cents"), [(4.0, 10.0), (6.0, 50.0), (8.0, 60.0)])
def test_vibrato_has_its_rate_and_its_width_to_either_side(rate_hz: float, cents: float) -> None:
    """The spectrum of the measured pitch curve has its one peak at the vibrato's rate, as high as its width."""
    note = PlayedNote(0.0, 2.6, 880.0, vibrato_hz=rate_hz, vibrato_cents=cents, voice=QUIET)
    settled = heard_cents(play(note), 880.0)[round(0.5 * RATE) : round(2.5 * RATE)]
    spectrum = 2.0 * np.abs(np.fft.rfft(settled)) / len(settled)
    assert np.argmax(spectrum[1:200]) + 1 == 2 * rate_hz
    assert spectrum[round(2 * rate_hz)] == pytest.approx(cents, rel=0.02)


def test_a_fast_bend_takes_the_time_it_says() -> None:
    """A three-semitone bend in 60 ms is at 0 before, half way in the middle and at -300 after."""
    note = PlayedNote(0.0, 1.0, 493.88, glide=((0.4, 0.0), (0.46, -300.0)))
    cents = true_cents(play(note), note.hz)
    assert cents[round(0.4 * RATE)] == pytest.approx(0.0, abs=1e-6)
    assert cents[round(0.43 * RATE)] == pytest.approx(-150.0, abs=1e-6)
    assert cents[round(0.46 * RATE)] == pytest.approx(-300.0, abs=1e-6)


@pytest.mark.parametrize(("rate_hz", "depth_db"), [(4.0, 6.0), (7.0, 10.0)])
def test_flutter_moves_the_level_smoothly_by_its_depth(rate_hz: float, depth_db: float) -> None:
    """Measured cycle by cycle, the level swings by the depth at the flutter's rate and never jumps."""
    note = PlayedNote(0.0, 2.0, 480.0, flutter_hz=rate_hz, flutter_db=depth_db, voice=QUIET)
    cycles = play(note).samples[: 2 * RATE].reshape(-1, 100)[50:-20].astype(np.float64)
    levels_db = 10.0 * np.log10(np.mean(cycles**2, axis=1))
    assert np.ptp(levels_db) == pytest.approx(depth_db, abs=0.2)
    assert np.abs(np.diff(levels_db)).max() < 0.5
    swings = np.count_nonzero(np.diff(np.sign(levels_db - levels_db.mean()))) / 2.0
    assert swings == pytest.approx(rate_hz * len(cycles) / 480.0, abs=1.0)


def test_the_level_is_the_one_told() -> None:
    """A settled note has the RMS level that the performance says, and swells as written."""
    performance = play(PlayedNote(0.0, 1.0, 500.0, level_db=-20.0, swell=((0.4, 0.0), (0.5, 6.0)), voice=QUIET))
    for from_s, level_db in ((0.1, -20.0), (0.6, -14.0)):
        part = slice(round(from_s * RATE), round((from_s + 0.2) * RATE))
        rms_db = 10.0 * np.log10(np.mean(performance.samples[part].astype(np.float64) ** 2))
        assert rms_db == pytest.approx(level_db, abs=0.1)
        np.testing.assert_allclose(performance.level_db[part], level_db, atol=1e-4)


def test_notes_sound_between_start_and_end_and_nowhere_else() -> None:
    """Outside its notes the truth is 0 Hz at -120 dB, and the sound is the noise of the room."""
    notes = [PlayedNote(0.2 + 0.3 * index, 0.25, 440.0) for index in range(3)]
    performance = perform(notes, RATE, room_db=-80.0)
    time = np.arange(len(performance.samples)) / RATE
    inside = np.any([(time >= note.start_s) & (time < note.end_s) for note in notes], axis=0)
    np.testing.assert_array_equal(performance.f0_hz > 0.0, inside)
    assert np.all(performance.level_db[~inside] == -120.0)
    assert 10.0 * np.log10(np.mean(performance.samples[~inside].astype(np.float64) ** 2)) < -78.0
    assert performance.notes == tuple(notes)
    assert performance.length_s == pytest.approx(notes[-1].end_s + 0.5)


def test_breath_alone_sounds_but_has_no_pitch() -> None:
    """Breath through the harp is heard at its level, and the truth stays silent."""
    performance = perform([Breath(0.1, 0.8, -40.0)], RATE, room_db=-200.0, length_s=1.0)
    middle = performance.samples[round(0.2 * RATE) : round(0.8 * RATE)].astype(np.float64)
    assert 10.0 * np.log10(np.mean(middle**2)) == pytest.approx(-40.0, abs=0.5)
    assert not performance.f0_hz.any()
    assert performance.notes == ()


def test_the_same_seed_plays_the_same_and_another_does_not() -> None:
    """Everything that is left to chance hangs on the seed, and a note's chance on no other note."""
    notes = [PlayedNote(0.1, 0.3, 440.0, wander_cents=5.0), PlayedNote(0.5, 0.3, 550.0, wander_cents=5.0)]
    first, again, other = perform(notes, seed=1), perform(notes, seed=1), perform(notes, seed=2)
    np.testing.assert_array_equal(first.samples, again.samples)
    assert not np.array_equal(first.f0_hz, other.f0_hz)
    alone = perform(notes[:1], seed=1, length_s=first.length_s)
    np.testing.assert_array_equal(alone.f0_hz[: RATE // 2], first.f0_hz[: RATE // 2])


def test_what_one_mouth_cannot_play_is_refused() -> None:
    """Overlapping notes, notes before the start, without length, out of range or beyond full scale raise ValueError."""
    note = PlayedNote(0.1, 0.3, 440.0)
    for score, reason in (
        ([note, replace(note, start_s=0.3)], "overlap"),
        ([replace(note, start_s=-0.1)], "before 0"),
        ([replace(note, length_s=0.0)], "no length"),
        ([replace(note, hz=22000.0)], "range"),
        ([replace(note, level_db=0.0)], "full scale"),
    ):
        with pytest.raises(ValueError, match=reason):
            perform(score)


def test_a_curve_passes_through_its_points_and_holds_outside_them() -> None:
    """Before the first point and after the last the value stays; half way it is half way."""
    values = curve_at(((1.0, 10.0), (2.0, 20.0), (3.0, 0.0)), np.array([0.0, 1.0, 1.5, 2.0, 2.5, 3.0, 9.0]))
    np.testing.assert_allclose(values, [10.0, 10.0, 15.0, 20.0, 10.0, 0.0, 0.0], atol=1e-12)
    np.testing.assert_array_equal(curve_at((), np.zeros(3)), 0.0)
