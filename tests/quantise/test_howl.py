"""A howl is recognised and silenced; no reed is ever taken for one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from bench.cases import Case
from bench.peers import follow
from bridge.base.events import PitchFrame
from bridge.capture.reed_tone import breath_noise
from bridge.follow.settings import FollowSettings
from bridge.quantise.howl import HowlFilter, HowlSettings
from sounds.gestures import held, low_passed
from sounds.known import KnownSound

RATE, FRAME_RATE = 48000, 750
#: From the first frame with a pitch to the recognition, seconds.
SOON_S = 0.3


def howl(hz: float, rise_db_per_s: float, seconds: float) -> NDArray[np.float32]:
    """A tone that grows exponentially from -50 dBFS until it saturates, over noise at -65 dBFS."""
    at_s = np.arange(round(seconds * RATE)) / RATE
    level_db = np.minimum(-50.0 + rise_db_per_s * at_s, 20.0)
    grown = 10.0 ** (level_db / 20.0) * np.sqrt(2.0) * np.sin(2.0 * np.pi * hz * at_s)
    noise = 10.0 ** (-65.0 / 20.0) * breath_noise(len(at_s), RATE, np.random.default_rng(3))
    return np.asarray(0.7 * np.tanh(grown / 0.7) + noise, np.float32)


def frames_of(samples: NDArray[np.float32], key: str = "low-F") -> list[PitchFrame]:
    """What the follower makes of it."""
    nothing = np.zeros(0)
    sound = KnownSound("", RATE, samples, (), nothing, nothing, nothing == 0.0)
    return follow(Case(sound, key, 440.0), FollowSettings())


def made(level_db: float, time_s: float, hz: float = 1000.0, bright: float = 0.0) -> PitchFrame:
    """One frame."""
    return PitchFrame(time_s, time_s + 0.005, hz, level_db, 1.0, 1.0, bright)


def rising(seconds: float, rise_db_per_s: float, *, hz: float = 1000.0, bright: float = 0.0) -> list[PitchFrame]:
    """Frames of a tone that rises along a line."""
    times = np.arange(round(seconds * FRAME_RATE)) / FRAME_RATE
    return [made(-40.0 + rise_db_per_s * at_s, at_s, hz, bright) for at_s in times.tolist()]


def listening() -> HowlFilter:
    """A filter that has heard a howl at 1 kHz for half a second."""
    listener = HowlFilter(HowlSettings())
    for frame in rising(0.5, 20.0):
        listener.step(frame)
    assert listener.howling
    return listener


@pytest.mark.parametrize("hz", [230.0, 440.0, 1100.0, 2300.0, 3000.0])
@pytest.mark.parametrize("rise_db_per_s", [5.0, 20.0, 60.0])
def test_a_howl_is_silenced_soon_and_for_good(hz: float, rise_db_per_s: float) -> None:
    """A growing pure tone (theory of feedback: exponential growth) is known after 0.3 s, saturated or not."""
    listener = HowlFilter(HowlSettings())
    heard = [(frame, listener.step(frame)) for frame in frames_of(howl(hz, rise_db_per_s, 2.5))]
    began = next(frame.ready_s for frame, _ in heard if frame.hz > 0.0)
    assert listener.howling
    assert all(after.hz == 0.0 for frame, after in heard if frame.ready_s > began + SOON_S)


@pytest.mark.parametrize("voice", ["sampled", "rehearsed"])
@pytest.mark.parametrize("key", ["low-F", "D", "high-G"])
def test_no_crescendo_behind_closed_hands_is_a_howl(voice: str, key: str) -> None:
    """Held notes on eight holes through a low-pass at 1 kHz, each 20 dB louder within 0.8 s, all pass."""
    sound = held(key, voice)
    gain_db = np.zeros(len(sound.samples))
    for note in sound.notes:
        inside = slice(round(note.start_s * RATE), round(note.silent_s * RATE))
        since = np.arange(len(gain_db[inside])) / RATE
        gain_db[inside] = 20.0 * np.clip((since - 0.05) / 0.8, 0.0, 1.0) - 20.0
    closed = low_passed(sound.samples, RATE, 1000.0) * 10.0 ** (gain_db / 20.0)
    listener = HowlFilter(HowlSettings())
    for frame in frames_of(closed.astype(np.float32), key):
        assert listener.step(frame) is frame
        assert not listener.howling


@pytest.mark.parametrize(
    "frames",
    [rising(2.0, 0.0), rising(2.0, -10.0), rising(2.0, 20.0, bright=0.05)],
    ids=["steady", "fading", "with overtones"],
)
def test_a_tone_that_lacks_one_mark_is_none(frames: list[PitchFrame]) -> None:
    """Steady, fading or brighter tones pass."""
    listener = HowlFilter(HowlSettings())
    assert [listener.step(frame) for frame in frames] == frames


def test_a_pitch_that_moves_is_none() -> None:
    """A tone that rises by 20 dB a second and glides by 40 cents a second is played."""
    listener = HowlFilter(HowlSettings())
    moved = [
        made(-40.0 + 20.0 * at_s, at_s, 1000.0 * 2.0 ** (40.0 * at_s / 1200.0))
        for at_s in (np.arange(1500) / FRAME_RATE).tolist()
    ]
    assert [listener.step(frame) for frame in moved] == moved


def test_a_note_at_another_pitch_passes_and_the_howl_ends_when_it_is_gone() -> None:
    """The harp is heard beside a howl, which is over 0.3 s after its last frame."""
    listener = listening()
    assert listener.since_s == pytest.approx(0.0, abs=0.25)
    beside = made(-20.0, 0.51, 500.0, 0.5)
    assert listener.step(beside) is beside
    assert listener.howling
    assert listener.step(made(-30.0, 0.52)).hz == 0.0
    assert listener.step(made(-120.0, 0.9, 0.0)).hz == 0.0
    assert not listener.howling


@pytest.mark.parametrize("second_hz", [0.0, 660.0])
def test_a_howl_beside_a_reed_is_not_played(second_hz: float) -> None:
    """Named second it is taken out of the frame; named first, the reed beside it takes its place, if there is one."""
    listener = listening()
    harp = replace(made(-15.0, 0.51, 660.0, 0.5), second_hz=1000.0, reeds=2)
    heard = listener.step(harp)
    assert (heard.hz, heard.second_hz, heard.reeds) == (660.0, 0.0, 1)
    heard = listener.step(replace(made(-15.0, 0.52), second_hz=second_hz, reeds=2))
    assert (heard.hz, heard.second_hz, heard.reeds) == (second_hz, 0.0, 1)
    assert listener.howling


def struck(seconds: float, *, attack: bool = True) -> list[PitchFrame]:
    """A bright tone at the howl's pitch, right after it."""
    times = 0.5 + np.arange(round(seconds * FRAME_RATE)) / FRAME_RATE
    return [replace(made(-18.0, at_s, 1000.0, 0.6), attack=attack and not i) for i, at_s in enumerate(times.tolist())]


def test_a_note_struck_at_the_pitch_of_the_howl_passes() -> None:
    """With overtones that came with an attack it is the harp, all but its first hundredths of a second."""
    listener = listening()
    heard = [listener.step(frame) for frame in struck(0.3)]
    assert not listener.howling
    assert [frame.hz for frame in heard[30:]] == [1000.0] * len(heard[30:])


@pytest.mark.parametrize("frames", [struck(0.02), struck(2.0, attack=False)], ids=["knock", "overload"])
def test_overtones_alone_are_no_note(frames: list[PitchFrame]) -> None:
    """A knock's are short, and those of a howl that overloads the microphone come without an attack."""
    listener = listening()
    assert not any(listener.step(frame).hz for frame in frames)
    assert listener.howling


def test_a_knock_on_an_overloading_howl_releases_nothing() -> None:
    """It was bright before it was struck."""
    listener = listening()
    frames = struck(1.0, attack=False)
    frames[300] = replace(frames[300], attack=True)
    assert not any(listener.step(frame).hz for frame in frames)


def test_a_reed_heard_right_after_a_howl_of_its_pitch_is_played() -> None:
    """The howl stops as the sampled harmonica begins on the same A4: most of its note is heard."""
    [note, *_] = (sound := held("A", "sampled")).notes
    hz = float(np.median(sound.hz[(sound.times_s > note.attack_s + 0.1) & (sound.times_s < note.attack_s + 0.3)]))
    played = sound.samples[round((note.attack_s - 0.02) * RATE) : round(note.end_s * RATE)]
    before = howl(hz, 20.0, 1.0)
    before[-480:] *= np.linspace(1.0, 0.0, 480, dtype=np.float32)
    listener = HowlFilter(HowlSettings())
    heard = [listener.step(frame) for frame in frames_of(np.concatenate([before, played]), "A")]
    assert not any(frame.hz for frame in heard if 0.5 < frame.time_s < 0.95)
    after = [frame.hz > 0.0 for frame in heard if frame.time_s > 1.1]
    assert sum(after) > 0.9 * len(after)


def test_it_can_be_switched_off() -> None:
    """With ``listen`` off everything passes."""
    listener = HowlFilter(HowlSettings(listen=False))
    frames = rising(1.0, 20.0)
    assert [listener.step(frame) for frame in frames] == frames
