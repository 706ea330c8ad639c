"""Whether the sounds the other tests rely on are what they say they are."""

from __future__ import annotations

import io

import numpy as np
import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sounds import dirt, known, praat, rehearsed, sampled, scores


def cents(hz: np.ndarray, reference: np.ndarray | float) -> np.ndarray:
    """Interval of arrays in cents."""
    return 1200.0 * np.log2(hz / reference)


def rms(samples: np.ndarray) -> float:
    """Root of the mean square."""
    return float(np.sqrt(np.mean(samples.astype(np.float64) ** 2)))


@pytest.fixture(scope="module")
def thirds() -> known.KnownSound:
    """Sampled blue thirds on a C harp."""
    return sampled.sampled("blue thirds")


@pytest.fixture(scope="module")
def rehearsal() -> known.KnownSound:
    """Three passages of the rehearsal on an A harp."""
    return rehearsed.rehearsed("A", 1, ["straight third", "vibrato", "whole range"])


def test_bends_of_a_c_harp_are_those_of_the_layout() -> None:
    """The holes bend to the notes that the layout gives (OEIS A291810; rule of the bends: common practice)."""
    bends = {
        (hole, air): sorted(midi for h, a, midi in scores.reeds_and_bends() if (h, a) == (hole, air))[:-1]
        for hole, air in ((1, "draw"), (2, "draw"), (3, "draw"), (4, "draw"), (5, "draw"), (6, "draw"))
    }
    assert bends == {
        (1, "draw"): [61],
        (2, "draw"): [65, 66],
        (3, "draw"): [68, 69, 70],
        (4, "draw"): [73],
        (5, "draw"): [],
        (6, "draw"): [80],
    }
    blow = {hole: [m for h, a, m in scores.reeds_and_bends() if (h, a) == (hole, "blow")][1:] for hole in (7, 8, 9, 10)}
    assert blow == {7: [], 8: [87], 9: [90], 10: [95, 94]}


@given(st.floats(-500, 500), st.floats(-500, 500), st.floats(0.01, 2.0))
def test_a_bend_starts_and_ends_at_its_points_and_stays_between(low: float, high: float, length: float) -> None:
    """A glide passes through its points and never overshoots them."""
    bend = known.Bend(((0.1, low), (0.1 + length, high)))
    at = bend.at(np.linspace(0.0, 0.2 + length, 101))
    assert at[0] == pytest.approx(low)
    assert at[-1] == pytest.approx(high)
    assert min(low, high) - 1e-9 <= at.min() <= at.max() <= max(low, high) + 1e-9


def test_the_midi_file_holds_the_score() -> None:
    """A second library (pretty_midi) reads the notes and bends that the score asked for."""
    score = scores.deep_draw_bend()
    read = pretty_midi.PrettyMIDI(io.BytesIO(sampled.midi_file(score)))
    (note,) = [note for instrument in read.instruments for note in instrument.notes]
    assert (note.pitch, note.start, note.end) == pytest.approx((71, 0.2, 1.85), abs=0.0011)
    lowest = min(bend.pitch for instrument in read.instruments for bend in instrument.pitch_bends)
    assert lowest * 12 / 8192 == pytest.approx(-3.0, abs=12 / 8192)


@pytest.mark.parametrize("key", ["low-F", "C", "high-G"])
def test_every_hole_settles_near_its_note(key: str) -> None:
    """Every sampled reed and bend settles, by Praat, within 7 cents of equal temperament (A4 = 440 Hz, MIDI 1.0)."""
    sound = sampled.sampled("every hole", key)
    assert len(sound.notes) == 32
    settled = np.array([note.settled_hz for note in sound.notes])
    equal = 440.0 * 2.0 ** ((np.array([note.midi for note in sound.notes]) - 69) / 12)
    assert np.max(np.abs(cents(settled, equal))) < 7.0


def test_thirds_begin_low_and_are_released(thirds: known.KnownSound) -> None:
    """Praat hears each third begun 70 to 110 cents below the straight third and ended on it."""
    begun = []
    for note in thirds.notes[1::2]:
        inside = (thirds.times_s >= note.start_s + 0.1) & (thirds.times_s < note.end_s) & thirds.scored
        above = cents(thirds.hz[inside], 440.0 * 2.0 ** ((note.midi - 69) / 12))
        begun.append(float(above[0]))
        assert abs(above[-1]) < 3.0
    assert begun == pytest.approx([-70, -80, -90, -100, -110], abs=3.0)


def test_truth_of_moving_notes_follows_what_was_asked() -> None:
    """Once the attack is over, Praat's curve lies within 8 cents of the bend that was sent, over the whole glide."""
    sound = sampled.sampled("deep draw bend")
    (note,) = sound.notes
    inside = (sound.times_s >= note.start_s + 0.1) & (sound.times_s < note.end_s)
    since = sound.times_s[inside] - note.start_s
    asked = 440.0 * 2.0 ** ((note.midi - 69 + note.bend.at(since) / 100) / 12)
    assert np.all(sound.scored[inside])
    assert np.max(np.abs(cents(sound.hz[inside], asked))) < 8.0


def test_attacks_and_tails_are_not_scored(thirds: known.KnownSound) -> None:
    """Neither the first 40 ms of a note nor what follows its end until its tail has died away is scored."""
    for note in thirds.notes:
        attack = (thirds.times_s >= note.start_s) & (thirds.times_s < note.start_s + 0.04)
        tail = (thirds.times_s >= note.end_s) & (thirds.times_s < note.silent_s)
        sounding = np.zeros(len(thirds.hz), dtype=bool)
        for other in thirds.notes:
            sounding |= (thirds.times_s >= other.start_s + 0.04) & (thirds.times_s < other.end_s)
        assert not np.any(thirds.scored[(attack | tail) & ~sounding])
        assert note.start_s < note.attack_s < note.start_s + 0.04


def test_repeats_leave_dips_at_unchanged_pitch() -> None:
    """Ten tongued repeats with gaps of 45 ms sound, each gap at least 10 dB below the note."""
    sound = sampled.sampled("tongued repeats")
    assert len(sound.notes) == 10
    for note, after in zip(sound.notes, sound.notes[1:], strict=False):
        assert after.start_s - note.end_s == pytest.approx(0.045)
        loud = rms(sound.samples[round((note.end_s - 0.03) * sound.rate) : round(note.end_s * sound.rate)])
        gap = rms(sound.samples[round((after.start_s - 0.01) * sound.rate) : round(after.start_s * sound.rate)])
        assert 20 * np.log10(loud / gap) > 10.0


def test_praat_measures_a_sine_within_a_fifth_of_a_cent() -> None:
    """The measure of the truth is itself true: a sine of known frequency (definition of the sine)."""
    for hz in (175.0, 440.0, 1318.5, 3136.0):
        tone = np.sin(2 * np.pi * hz * np.arange(24000) / 48000).astype(np.float32)
        assert abs(cents(np.array(praat.settled_hz(tone, 48000, 0.0, 0.5, hz / 1.35, hz * 1.35)), hz)) < 0.2


def test_a_note_too_short_for_praat_has_no_settled_pitch() -> None:
    """Instead of an error from Praat, a sound shorter than its window has no pitch."""
    assert praat.settled_hz(np.zeros(480, np.float32), 48000, 0.0, 0.01, 200.0, 400.0) == 0.0


def test_the_rehearsal_sounds_as_its_truth_says(rehearsal: known.KnownSound) -> None:
    """Praat, which does not know the truth, hears it within 1 cent (median of every held note)."""
    held = [note for note in rehearsal.notes if note.settled_hz > 0.0]
    assert len(held) > 15
    for note in held:
        hz = note.settled_hz
        heard = praat.settled_hz(
            rehearsal.samples, rehearsal.rate, note.start_s, note.end_s - 0.02, hz / 1.35, hz * 1.35, 0.06
        )
        assert abs(cents(np.array(heard), hz)) < 1.0


def test_seeds_and_keys_of_the_rehearsal_differ_and_repeat() -> None:
    """The same key and seed give the same samples; another seed gives another harp and other reeds."""
    first, again, other = (rehearsed.rehearsed("D", seed, ["straight third"]) for seed in (1, 1, 2))
    assert np.array_equal(first.samples, again.samples)
    assert not np.array_equal(first.samples, other.samples)
    assert first.hz.max() < other.hz.max()


def test_weak_reeds_have_their_fundamental_under_the_second_harmonic() -> None:
    """Among the reeds of the benchmark are fundamentals below a fifth of the second harmonic (measured by FFT)."""
    ratios = []
    for seed in rehearsed.BENCH_SEEDS:
        sound = rehearsed.rehearsed("A", seed, ["straight third", "weak fundamental", "whole range"])
        for note in sound.notes:
            middle = round((note.start_s + note.end_s) / 2 * sound.rate)
            spectrum = np.abs(np.fft.rfft(sound.samples[middle - 2400 : middle + 2400] * np.hanning(4800)))
            first, second = (round(k * note.settled_hz / 10.0) for k in (1, 2))
            ratios.append(spectrum[first - 2 : first + 3].max() / spectrum[second - 2 : second + 3].max())
    assert 0.08 < min(ratios) < 0.2
    assert max(ratios) > 0.7


def test_the_room_decays_as_asked() -> None:
    """T20 of the room, by the backward integration of ISO 3382-2, is 0.4 s; nothing comes before the direct sound."""
    response = dirt.room_response(48000)
    assert dirt.decay_s(response, 48000) == pytest.approx(0.4, abs=0.01)
    assert response[0] == pytest.approx(1.0, abs=0.05)


def test_an_exponential_decay_is_measured_right() -> None:
    """A decay of 60 dB in 0.5 s is measured as 0.5 s (definition of the reverberation time)."""
    seconds = np.arange(48000) / 48000
    assert dirt.decay_s(10.0 ** (-3.0 * seconds / 0.5), 48000) == pytest.approx(0.5, abs=0.005)


def test_noise_and_hum_lie_where_asked(rehearsal: known.KnownSound) -> None:
    """Pink noise is 20 dB and hum 30 dB below what sounds, and hum is at 50 Hz."""
    sounding = np.abs(rehearsal.samples) > 0.01 * np.max(np.abs(rehearsal.samples))
    level = rms(rehearsal.samples[sounding])
    noise = dirt.noisy(rehearsal).samples - rehearsal.samples
    hum = dirt.humming(rehearsal).samples - rehearsal.samples
    assert 20 * np.log10(level / rms(noise)) == pytest.approx(20.0, abs=0.1)
    assert 20 * np.log10(level / rms(hum)) == pytest.approx(30.0, abs=0.1)
    spectrum = np.abs(np.fft.rfft(hum[:48000]))
    assert int(np.argmax(spectrum)) == 50


def test_pink_noise_falls_by_three_decibels_an_octave() -> None:
    """Octave bands of pink noise have equal power (definition of pink noise)."""
    power = np.abs(np.fft.rfft(dirt.pink_noise(1 << 19, 48000))) ** 2
    hz = np.fft.rfftfreq(1 << 19, 1 / 48000)
    bands = [power[(hz >= low) & (hz < 2 * low)].sum() for low in (125, 250, 500, 1000, 2000, 4000)]
    assert 10 * np.log10(max(bands) / min(bands)) < 0.5


@pytest.mark.parametrize("name", list(dirt.DIRT))
def test_dirt_repeats_and_keeps_the_truth(rehearsal: known.KnownSound, name: str) -> None:
    """Dirt gives the same samples every time, stays in full scale and leaves pitch, notes and length alone."""
    first, again = dirt.DIRT[name](rehearsal), dirt.DIRT[name](rehearsal)
    assert np.array_equal(first.samples, again.samples)
    assert not np.array_equal(first.samples, rehearsal.samples)
    assert first.samples.dtype == np.float32
    assert np.max(np.abs(first.samples)) <= 1.0
    assert first.samples.shape == rehearsal.samples.shape
    assert first.hz is rehearsal.hz
    assert first.notes is rehearsal.notes
    assert np.array_equal(first.scored[first.hz > 0.0], rehearsal.scored[first.hz > 0.0])


def test_an_overdriven_sine_is_squared() -> None:
    """A sine pushed 18 dB into tanh has nearly the crest of a square wave (1, against 1.41 of a sine)."""
    tone = (0.3 * np.sin(2 * np.pi * 440.0 * np.arange(48000) / 48000)).astype(np.float32)
    silent = np.zeros(1000)
    sound = known.KnownSound("sine", 48000, tone, (), silent, silent, silent == 0.0)
    pushed = dirt.driven(sound).samples
    assert np.max(np.abs(pushed)) / rms(pushed) < 1.1
