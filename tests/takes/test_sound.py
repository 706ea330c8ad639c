"""``sound.wav``: samples at their place in the stream, readable at any moment by another library."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.base.errors import ClosedError
from bridge.base.events import AudioBlock
from bridge.takes import sound
from bridge.takes.sound import SoundWriter

RATE = 48000


def block(start: int, samples: NDArray[np.float32]) -> AudioBlock:
    """Samples at 48 kHz."""
    return AudioBlock(start, RATE, samples)


def read(path: Path) -> NDArray[np.float64]:
    """The samples as libsndfile reads them."""
    samples, rate = soundfile.read(path)
    assert rate == RATE
    return np.asarray(samples, dtype=np.float64)


@given(st.lists(st.integers(0, 3000), max_size=12), st.integers(0, 2**32 - 1))
def test_samples_come_back_to_24_bits(tmp_path_factory: pytest.TempPathFactory, sizes: list[int], seed: int) -> None:
    """Blocks of any size come back in order, within half a step of 2**-23."""
    path = tmp_path_factory.mktemp("sound") / "sound.wav"
    samples = np.random.default_rng(seed).uniform(-1, 1, sum(sizes)).astype(np.float32)
    writer = SoundWriter(path, RATE, flush_s=0.02)
    start = 0
    for size in sizes:
        writer.add(block(start, samples[start : start + size]))
        start += size
    writer.close()
    assert np.abs(read(path) - samples).max(initial=0.0) <= 1.01 * 2.0**-23


def test_the_file_is_readable_while_it_grows(tmp_path: Path) -> None:
    """Before closing, libsndfile finds a right header and everything up to the last write."""
    path = tmp_path / "sound.wav"
    writer = SoundWriter(path, RATE, flush_s=0.1)
    assert len(read(path)) == 0
    tone = np.sin(np.arange(RATE) * 0.05).astype(np.float32)
    for start in range(0, RATE, 480):
        writer.add(block(start, tone[start : start + 480]))
    heard = read(path)
    assert 0.9 * RATE <= len(heard) <= RATE
    assert np.abs(heard - tone[: len(heard)]).max() < 1e-6
    writer.close()
    assert len(read(path)) == RATE
    assert soundfile.info(path).subtype == "PCM_24"
    assert soundfile.info(path).channels == 1


def test_a_gap_becomes_silence_and_an_overlap_is_kept_once(tmp_path: Path) -> None:
    """A sample stands where the stream counts it."""
    path = tmp_path / "sound.wav"
    writer = SoundWriter(path, RATE)
    ones = np.full(100, 0.5, dtype=np.float32)
    writer.add(block(50, ones))
    writer.add(block(120, ones * 0.5))
    writer.add(block(130, ones[:10]))
    writer.add(block(300, ones))
    writer.close()
    expected = np.concatenate([np.zeros(50), np.full(100, 0.5), np.full(70, 0.25), np.zeros(80), np.full(100, 0.5)])
    assert np.abs(read(path) - expected).max() < 1e-6


def test_beyond_full_scale_is_clipped_and_nan_is_silence(tmp_path: Path) -> None:
    """No sample wraps round into a click."""
    writer = SoundWriter(tmp_path / "sound.wav", RATE)
    writer.add(block(0, np.array([2.0, -2.0, np.nan, np.inf, 1.0, -1.0], dtype=np.float32)))
    writer.close()
    assert np.abs(read(tmp_path / "sound.wav") - [1.0, -1.0, 0.0, 1.0, 1.0, -1.0]).max() < 1e-6


def test_what_a_wav_file_cannot_count_is_left_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """At the end of the 32-bit count the file stays whole."""
    monkeypatch.setattr(sound, "MOST_BYTES", 3000)
    writer = SoundWriter(tmp_path / "sound.wav", RATE)
    for start in range(0, 2000, 500):
        writer.add(block(start, np.full(500, 0.5, dtype=np.float32)))
    writer.close()
    assert len(read(tmp_path / "sound.wav")) == 1000


def test_a_closed_sound_raises_and_an_existing_one_stays(tmp_path: Path) -> None:
    """Closing twice is fine, using it then is a fault."""
    writer = SoundWriter(tmp_path / "sound.wav", RATE)
    writer.close()
    writer.close()
    with pytest.raises(ClosedError):
        writer.add(block(0, np.zeros(1, dtype=np.float32)))
    with pytest.raises(FileExistsError):
        SoundWriter(tmp_path / "sound.wav", RATE)


def test_a_long_gap_is_never_in_memory_as_a_whole(tmp_path: Path) -> None:
    """Two minutes of silence (17 MB) become samples of 0 with less than 2 MB held at any moment."""
    writer = SoundWriter(tmp_path / "sound.wav", RATE)
    tone = np.full(480, 0.5, np.float32)
    tracemalloc.start()
    try:
        writer.add(block(120 * RATE, tone))
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    writer.close()
    assert most < 2_000_000
    heard = read(tmp_path / "sound.wav")
    assert len(heard) == 120 * RATE + 480
    assert not heard[: 120 * RATE].any()
    assert (heard[120 * RATE :] == 0.5).all()
