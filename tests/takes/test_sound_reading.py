"""Samples read and written bit for bit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.base.errors import SoundError
from bridge.takes.sound_reading import SampleFile

KINDS = ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")


@pytest.fixture
def noise() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """A second of noise that reaches full scale."""
    return np.random.default_rng(1).uniform(-1.0, 1.0, 48000)


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_read_raw_is_written_bit_for_bit(
    kind: str, noise: np.ndarray[tuple[int], np.dtype[np.float64]], tmp_path: Path
) -> None:
    """Of every kind of sample a copy in pieces has the same samples and the same kind."""
    given, copied = tmp_path / "given.wav", tmp_path / "copied.wav"
    soundfile.write(given, noise, 48000, subtype=kind)
    with SampleFile(given) as file, file.open_like(copied) as out:
        for begin in range(0, file.count, 7001):
            out.write(file.raw(begin, min(begin + 7001, file.count)))
    assert soundfile.info(copied).subtype == kind
    assert np.array_equal(soundfile.read(given)[0], soundfile.read(copied)[0])


@pytest.mark.parametrize("kind", KINDS)
def test_samples_become_the_same_steps_again(
    kind: str, noise: np.ndarray[tuple[int], np.dtype[np.float64]], tmp_path: Path
) -> None:
    """Full scale is 1 both ways, as libsndfile has it; beyond it is clipped, not wrapped round."""
    given = tmp_path / "given.wav"
    soundfile.write(given, noise, 48000, subtype=kind)
    with SampleFile(given) as file:
        samples = file.samples(0, file.count)
        assert np.array_equal(samples, soundfile.read(given)[0])
        assert np.array_equal(file.as_raw(samples), file.raw(0, file.count))
        beyond = file.as_raw(np.array([3.0, -3.0]))
        assert beyond[0] > 0 > beyond[1]


def test_beyond_both_ends_is_silence(tmp_path: Path) -> None:
    """A stretch near the beginning or the end may look further than the sound goes."""
    soundfile.write(tmp_path / "given.wav", np.full(100, 0.5), 48000)
    with SampleFile(tmp_path / "given.wav") as file:
        assert file.samples(-3, 2).tolist() == [0.0, 0.0, 0.0, 0.5, 0.5]
        assert file.samples(98, 103).tolist() == [0.5, 0.5, 0.0, 0.0, 0.0]
        assert file.samples(200, 203).tolist() == [0.0, 0.0, 0.0]
        assert file.samples(-9, -6).tolist() == [0.0, 0.0, 0.0]


def test_a_sound_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    """A file that is missing, one that is no sound, and one in stereo: each with its name."""
    with pytest.raises(SoundError, match=r"sound\.wav.*cannot be read"):
        SampleFile(tmp_path / "sound.wav")
    (tmp_path / "text.wav").write_text("no sound", encoding="utf-8")
    with pytest.raises(SoundError, match=r"text\.wav.*cannot be read"):
        SampleFile(tmp_path / "text.wav")
    soundfile.write(tmp_path / "stereo.wav", np.zeros((10, 2)), 48000)
    with pytest.raises(SoundError, match=r"stereo\.wav.*2 channels"):
        SampleFile(tmp_path / "stereo.wav")
