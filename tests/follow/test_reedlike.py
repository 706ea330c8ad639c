"""Reeds against voices and knocks: recorded speech of Debian's packages, a synthesised singer, sampled harmonica."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from bridge.base.events import AudioBlock
from bridge.capture.player import PlayedNote, perform
from bridge.follow.conditioning import Conditioner
from bridge.follow.making import make_follower
from bridge.follow.reedlike import Reedlike
from bridge.follow.settings import FollowSettings
from sounds.known import Floats
from sounds.sampled import sampled
from sounds.speech import speech, sung

_RATE, _FLOOR_HZ = 48000, 165.0


def _looks(samples: NDArray[np.floating], places: Floats, hz: Floats, upper: float = 0.1) -> Floats:
    """What each look at ``places`` (seconds) says of a sound of these pitches, past the follower's own filter.

    ``upper`` is the part of the power above 5 kHz that was heard before.
    """
    hops = len(samples) // 64
    filtered = Conditioner(_RATE, 64, high_pass_hz=0.45 * _FLOOR_HZ, low_pass_hz=9000.0)
    ready = filtered.step(np.asarray(samples[: 64 * hops], np.float64).reshape(-1, 64)).ravel()
    found = []
    for at, pitch in zip(places.tolist(), hz.tolist(), strict=True):
        reedlike = Reedlike(_RATE, _FLOOR_HZ)
        reedlike.hear(1.0, upper)
        found.append(reedlike.step(ready, round(at * _RATE), pitch, 0.999))
    return np.array(found)


@pytest.mark.parametrize("hz", [174.6, 392.0, 784.0, 1568.0, 2637.0])
def test_a_steady_reed_is_a_reed(hz: float) -> None:
    """A held reed of the synthetic player is believed wherever it lies."""
    played = perform([PlayedNote(0.1, 0.6, hz)], _RATE, 3)
    places = np.arange(0.25, 0.6, 0.02)
    assert np.min(_looks(played.samples, places, np.full(len(places), hz))) > 0.8


def test_a_sampled_harmonica_is_a_reed() -> None:
    """The recorded reeds of a sound font are believed once they have settled, bent ones too."""
    sound = sampled("every hole", "A")
    notes = [note for note in sound.notes if note.settled_hz > 0.0]
    places = np.array([note.attack_s + 0.2 for note in notes])
    looks = _looks(sound.samples, places, np.array([note.settled_hz for note in notes]))
    assert np.mean(looks > 0.5) > 0.98


@pytest.mark.parametrize("woman", [False, True])
def test_a_singer_is_no_reed(*, woman: bool) -> None:
    """A steady sung vowel, whose pitch is as sure as a reed's, is not believed."""
    sound = sung(6.0, woman=woman, vibrato_cents=0.0)
    lowest = 220.0 if woman else 261.6
    places = np.arange(0.6, 5.5, 0.05)
    assert np.median(_looks(sound.samples, places, np.full(len(places), lowest))) < 0.1


def test_speech_is_no_reed_at_any_pitch_a_follower_may_find_in_it() -> None:
    """Recorded speech, taken at pitches of a speaking voice, is hardly ever believed."""
    sound = speech("French", 10.0)
    places = np.arange(0.5, 9.5, 0.02)
    for hz in (180.0, 240.0, 320.0):
        assert np.mean(_looks(sound.samples, places, np.full(len(places), hz)) > 0.5) < 0.02


def test_a_stream_without_upper_bands_is_judged_by_the_rest() -> None:
    """A reed from a telephone's 8 kHz is still one where nothing is heard above."""
    played = perform([PlayedNote(0.1, 0.6, 440.0)], _RATE, 3).samples.astype(np.float64)
    spectrum = np.fft.rfft(played)
    spectrum[np.fft.rfftfreq(len(played), 1.0 / _RATE) > 3700.0] = 0.0
    dull, places = np.fft.irfft(spectrum, len(played)), np.arange(0.25, 0.6, 0.02)
    pitches = np.full(len(places), 440.0)
    assert np.min(_looks(dull, places, pitches, upper=0.0)) > np.max(_looks(dull, places, pitches))
    assert np.min(_looks(dull, places, pitches, upper=0.0)) > 0.8


@pytest.mark.parametrize("woman", [False, True])
def test_a_singer_is_no_dull_harp(*, woman: bool) -> None:
    """Of what the follower hears of a voice with nothing above 5 kHz hardly any is taken for a reed.

    The weights were fitted to another singing of the same voices (seed 1).
    """
    sound = sung(10.0, woman=woman, vibrato_cents=0.0, seed=2)
    frames = make_follower(FollowSettings(), _RATE, _FLOOR_HZ).follow(AudioBlock(0, _RATE, sound.samples))
    held = np.array([frame.reed for frame in frames if frame.hz > 0.0])
    assert len(held) > 1000
    assert np.mean(held > 0.5) < 0.2


def test_upper_bands_count_while_they_are_heard_and_not_for_ever() -> None:
    """A knock over a dull harp makes its upper bands count; some seconds of sound later they count no more."""
    played = perform([PlayedNote(0.1, 0.6, 440.0)], _RATE, 3).samples.astype(np.float64)
    spectrum = np.fft.rfft(played)
    spectrum[np.fft.rfftfreq(len(played), 1.0 / _RATE) > 3700.0] = 0.0
    dull, reedlike = np.fft.irfft(spectrum, len(played)), Reedlike(_RATE, _FLOOR_HZ)
    found = []
    for upper, hops in ((0.0, 750), (0.3, 30), (0.0, 7500)):
        for _ in range(hops):
            reedlike.hear(1.0, upper)
        reedlike.reset()
        found.append(reedlike.step(dull, 20000, 440.0, 0.999))
    assert found[0] == found[2] > found[1]


def test_a_dull_harp_is_followed_from_its_first_note() -> None:
    """A phrase through a low-pass of 24 dB an octave at 2.5 kHz is a reed's for the most part of it."""
    sound = sampled("phrase", "low-F")
    dull = sosfilt(butter(4, 2500.0, fs=_RATE, output="sos"), sound.samples)
    frames = make_follower(FollowSettings(), _RATE, _FLOOR_HZ).follow(
        AudioBlock(0, _RATE, np.asarray(dull, np.float32))
    )
    held = [frame.reed for frame in frames if frame.hz > 0.0]
    assert np.mean(np.array(held) > 0.5) > 0.9


def test_a_look_holds_until_the_next() -> None:
    """Between looks the last one counts, and a new sound is looked at at once."""
    played = perform([PlayedNote(0.1, 0.6, 440.0)], _RATE, 3).samples.astype(np.float64)
    silence = np.zeros(len(played))
    reedlike = Reedlike(_RATE, _FLOOR_HZ)
    first = reedlike.step(played, 20000, 440.0, 0.999)
    assert reedlike.step(silence, 20000, 440.0, 0.0) == first
    reedlike.reset()
    assert reedlike.step(silence, 20000, 440.0, 0.0) != first


def test_the_beginning_of_a_low_note_is_looked_at_often() -> None:
    """A look at a low note covers tens of milliseconds, and as long as it is filling the next one comes within 3 ms."""
    played = perform([PlayedNote(0.1, 0.4, 174.6)], _RATE, 3)
    samples = np.asarray(played.samples, np.float64)
    reedlike = Reedlike(_RATE, _FLOOR_HZ)
    found = [reedlike.step(samples, round(0.11 * _RATE) + 64 * hop, 174.6, 0.999) for hop in range(34)]
    assert all(len({*found[hop : hop + 3]}) > 1 for hop in range(0, 32, 2))
