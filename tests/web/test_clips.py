"""Sound in a page: decoded by FFmpeg it is what was played, in its place, quiet, and small enough to mail."""

from __future__ import annotations

import base64
import io

import av
import numpy as np
import pytest

from bridge.web.clips import RATE, Clip, clip, quiet_gain
from follow.tones import harmonic_tone

RATE_IN = 48000


def decoded(made: Clip, media: str = "audio/mpeg") -> np.ndarray:
    """The samples of a clip as FFmpeg decodes them, shape (n,) at ``RATE``."""
    kind, data = made.uri.split(",")
    assert kind == f"data:{media};base64"
    with av.open(io.BytesIO(base64.b64decode(data)), "r") as file:
        assert file.streams.audio[0].rate == RATE
        frames = [frame.to_ndarray().ravel() for frame in file.decode(audio=0)]
    return np.concatenate(frames)


def playing(level: float) -> np.ndarray:
    """Two seconds of silence around one second of a reed-like tone of 493.88 Hz (B4 of equal temperament)."""
    tone = harmonic_tone(493.88, 1.0)
    quiet = np.zeros(RATE_IN, np.float32)
    return np.concatenate([quiet, level * tone / np.max(np.abs(tone)), quiet]).astype(np.float32)


@pytest.mark.parametrize("level", [0.02, 0.9])
def test_a_clip_is_its_note_quiet_and_at_its_pitch(level: float) -> None:
    """However loud it was recorded: as loud, the tone from its note on, its pitch by the Fourier transform."""
    samples = playing(level)
    made = clip(samples, RATE_IN, 1.0, 2.0, quiet_gain(samples))
    sound = decoded(made)
    assert made.length_s == pytest.approx(1.35, abs=0.001)
    assert made.note_s == pytest.approx(0.15, abs=1e-6)
    assert len(sound) / RATE == pytest.approx(made.length_s, abs=0.1)
    assert float(np.max(np.abs(sound))) == pytest.approx(0.2, rel=0.3)
    middle = sound[round(0.3 * RATE) : round(1.0 * RATE)]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle)), 1 << 18))
    near = slice(round(400.0 / RATE * (1 << 18)), round(600.0 / RATE * (1 << 18)))
    hz = (near.start + int(np.argmax(spectrum[near]))) * RATE / (1 << 18)
    assert 1200.0 * np.log2(hz / 493.88) == pytest.approx(0.0, abs=2.0)
    assert float(np.max(np.abs(sound[: round(0.1 * RATE)]))) < 0.02


def test_without_mp3_it_is_a_wav(monkeypatch: pytest.MonkeyPatch) -> None:
    """As libsndfile may have been built: larger, and the same sound."""
    monkeypatch.setattr("soundfile.available_formats", lambda: {"WAV": "WAV"})
    samples = playing(0.5)
    sound = decoded(clip(samples, RATE_IN, 1.0, 2.0, 0.4), "audio/wav")
    assert len(sound) == round(1.35 * RATE)
    assert float(np.max(np.abs(sound))) == pytest.approx(0.2 * 32768.0, rel=0.05)


def test_a_clip_is_small() -> None:
    """A second is at most 12 kB as it stands in the page."""
    samples = playing(0.5)
    made = clip(samples, RATE_IN, 1.0, 2.0, quiet_gain(samples))
    assert len(made.uri) / made.length_s < 12_000


def test_a_clip_at_the_edge_of_a_recording_is_what_is_there() -> None:
    """A note that begins at once and one that ends with the sound; a very long one is cut."""
    samples = playing(0.5)
    assert clip(samples, RATE_IN, 0.0, 0.5, 1.0).note_s == 0.0
    assert clip(samples, RATE_IN, 2.5, 3.0, 1.0).length_s == pytest.approx(0.65, abs=0.001)
    assert clip(np.tile(samples, 6), RATE_IN, 1.0, 17.0, 1.0).length_s == pytest.approx(10.15, abs=0.001)


def test_silence_is_not_made_loud() -> None:
    """Noise of a room far below any playing stays far below."""
    assert quiet_gain(np.full(100, 1e-6, np.float32)) == pytest.approx(100.0)
    assert quiet_gain(np.zeros(0, np.float32)) == pytest.approx(100.0)


def test_a_knock_in_a_quiet_recording_is_not_made_loud() -> None:
    """Ten milliseconds at full scale in a note that is made seven times as loud: at most 6 dB above the note."""
    samples = np.concatenate([playing(0.03)] * 4)
    samples[round(1.5 * RATE_IN) : round(1.51 * RATE_IN)] = 1.0
    sound = decoded(clip(samples, RATE_IN, 1.0, 2.0, quiet_gain(samples)))
    assert float(np.max(np.abs(sound))) < 0.5
