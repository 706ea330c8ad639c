"""Every format, rate and channel count gives the same sound."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import numpy as np
import parselmouth
import pytest
import soundfile
from numpy.typing import NDArray

from bridge.base.errors import ClosedError
from bridge.capture.sound_file import SoundFile
from capture.encoding import sine, write_sound_track

HZ = 523.25
SECONDS = 2.0


def read_all(path: Path, rate: int = 48000, block: int = 128) -> NDArray[np.float32]:
    """The whole file, after checking that its blocks follow one another."""
    blocks: list[NDArray[np.float32]] = []
    count = 0
    with SoundFile(path, rate, block) as source:
        while (got := source.read(1.0)) is not None:
            assert got.start == count
            assert got.rate == source.rate
            assert got.samples.dtype == np.float32
            blocks.append(got.samples)
            count += len(got.samples)
        assert source.read(1.0) is None
    return np.concatenate(blocks)


def check_sine(
    samples: NDArray[np.float32], *, off_cents: float = 0.2, off_s: float = 0.001, off_db: float = 0.3
) -> None:
    """The known sine: pitch by Praat's autocorrelation (Boersma 1993), length and level."""
    assert len(samples) / 48000 == pytest.approx(SECONDS, abs=off_s)
    middle = samples[24000:72000].astype(np.float64)
    pitch = parselmouth.Sound(middle, 48000).to_pitch_ac(pitch_floor=200.0, pitch_ceiling=1000.0)
    found_hz = float(np.median(pitch.selected_array["frequency"][5:-5]))
    assert abs(1200.0 * np.log2(found_hz / HZ)) < off_cents
    assert 20.0 * np.log10(np.sqrt(2.0 * np.mean(middle**2)) / 0.5) == pytest.approx(0.0, abs=off_db)


@pytest.mark.parametrize(
    ("name", "subtype", "rate", "channels"),
    [
        ("a.wav", "PCM_U8", 8000, 1),
        ("a.wav", "PCM_16", 11025, 2),
        ("a.wav", "PCM_16", 44100, 1),
        ("a.wav", "PCM_24", 48000, 3),
        ("a.wav", "PCM_24", 96000, 4),
        ("a.wav", "PCM_32", 88200, 5),
        ("a.wav", "FLOAT", 192000, 6),
        ("a.wav", "DOUBLE", 16000, 1),
        ("a.aiff", "PCM_16", 44100, 2),
        ("a.flac", "PCM_16", 44100, 2),
        ("a.flac", "PCM_24", 96000, 1),
    ],
)
def test_uncompressed_sound_keeps_pitch_length_and_level(
    tmp_path: Path, name: str, subtype: str, rate: int, channels: int
) -> None:
    """A sine written by libsndfile comes back as it was, at 48 kHz and in mono."""
    samples = sine(HZ, SECONDS, rate)
    soundfile.write(tmp_path / name, np.repeat(samples[:, np.newaxis], channels, axis=1), rate, subtype=subtype)
    check_sine(read_all(tmp_path / name))


@pytest.mark.parametrize(("name", "rate", "channels"), [("a.ogg", 44100, 2), ("a.mp3", 44100, 1), ("a.mp3", 48000, 2)])
def test_compressed_sound_of_libsndfile_keeps_pitch_length_and_level(
    tmp_path: Path, name: str, rate: int, channels: int
) -> None:
    """Ogg Vorbis and MP3 come back within what such coding does."""
    samples = sine(HZ, SECONDS, rate)
    soundfile.write(tmp_path / name, np.repeat(samples[:, np.newaxis], channels, axis=1), rate)
    check_sine(read_all(tmp_path / name), off_cents=0.5, off_s=0.06)


@pytest.mark.parametrize(
    ("name", "codec", "rate", "layout", "video"),
    [
        ("voice.m4a", "aac", 44100, "mono", ""),
        ("clip.mp4", "aac", 48000, "stereo", "mpeg4"),
        ("clip.mov", "aac", 44100, "stereo", "mpeg4"),
        ("clip.mov", "pcm_s16le", 48000, "stereo", "mpeg4"),
        ("clip.mp4", "aac", 48000, "5.1", ""),
        ("board.webm", "libopus", 48000, "mono", ""),
        ("clip.webm", "libopus", 48000, "stereo", "libvpx"),
        ("voice.opus", "libopus", 48000, "mono", ""),
        ("voice.ogg", "libopus", 48000, "mono", ""),
        ("voice.3gp", "aac", 16000, "mono", ""),
    ],
)
def test_phone_videos_and_voice_messages_keep_pitch_length_and_level(
    tmp_path: Path, name: str, codec: str, rate: int, layout: str, video: str
) -> None:
    """The sound track of what phones and browsers write comes back within what such coding does."""
    write_sound_track(tmp_path / name, codec, sine(HZ, SECONDS, rate), rate, layout=layout, video=video)
    # Of six channels the one for low frequencies is coded without the sine: 20 log10(5/6) = -1.6 dB.
    check_sine(read_all(tmp_path / name), off_cents=0.5, off_s=0.07, off_db=1.7 if layout == "5.1" else 0.3)


def test_a_compressed_file_read_in_blocks_is_the_one_read_at_once(tmp_path: Path) -> None:
    """MP3 has no gaps where one piece ends and the next begins: it equals what libsndfile gives in one go."""
    soundfile.write(tmp_path / "a.mp3", sine(HZ, SECONDS, 48000), 48000)
    whole, _ = soundfile.read(tmp_path / "a.mp3", dtype="float32")
    np.testing.assert_array_equal(read_all(tmp_path / "a.mp3"), whole)


def test_channels_are_mixed_to_their_mean(tmp_path: Path) -> None:
    """A sine on one of two channels comes back at half its level."""
    samples = np.stack([sine(HZ, 1.0, 48000), np.zeros(48000, np.float32)], axis=1)
    soundfile.write(tmp_path / "a.wav", samples, 48000, subtype="FLOAT")
    np.testing.assert_array_equal(read_all(tmp_path / "a.wav"), samples[:, 0] / 2)


@pytest.mark.parametrize("block", [64, 128, 1000, 48000])
def test_blocks_have_the_size_asked_for_and_hold_the_same_sound(tmp_path: Path, block: int) -> None:
    """All blocks but the last have ``block`` samples; whatever the size, the sound is the same."""
    samples = sine(HZ, 1.3, 48000)
    soundfile.write(tmp_path / "a.wav", samples, 48000, subtype="FLOAT")
    with SoundFile(tmp_path / "a.wav", block=block) as source:
        assert source.length_s == pytest.approx(1.3)
        first = source.read(1.0)
        assert first is not None
        assert len(first.samples) == block
    np.testing.assert_array_equal(read_all(tmp_path / "a.wav", block=block), samples)


def test_another_rate_than_48_khz_can_be_asked_for(tmp_path: Path) -> None:
    """At 16 kHz the same second has 16000 samples."""
    soundfile.write(tmp_path / "a.wav", sine(HZ, 1.0, 44100), 44100)
    assert len(read_all(tmp_path / "a.wav", rate=16000)) == pytest.approx(16000, abs=1)


def test_values_that_are_no_numbers_become_silence_and_are_counted(tmp_path: Path) -> None:
    """NaN and infinity in a float file are replaced by 0, and the rest stays."""
    samples = sine(HZ, 0.5, 48000)
    broken = samples.copy()
    broken[[100, 200]] = np.nan
    broken[300] = -np.inf
    soundfile.write(tmp_path / "a.wav", broken, 48000, subtype="FLOAT")
    samples[[100, 200, 300]] = 0.0
    np.testing.assert_array_equal(read_all(tmp_path / "a.wav"), samples)
    with SoundFile(tmp_path / "a.wav", block=48000) as source:
        source.read(1.0)
        assert source.repaired == 3


def test_a_recorder_that_never_finished_its_header_is_read_all_the_same(tmp_path: Path) -> None:
    """A WAV whose header says 'as long as it goes on' (a stream) or 'nothing yet' (a killed recorder) is read whole."""
    path = tmp_path / "a.wav"
    soundfile.write(path, sine(HZ, SECONDS, 48000), 48000)
    whole = path.read_bytes()
    place = whole.index(b"data") + 4
    for length in (b"\xff\xff\xff\xff", b"\0\0\0\0"):
        path.write_bytes(whole[:place] + length + whole[place + 4 :])
        check_sine(read_all(path))


def test_a_long_file_is_read_in_flat_memory(tmp_path: Path) -> None:
    """Four minutes of 6 channels pass through less memory than five seconds of them would take."""
    with soundfile.SoundFile(tmp_path / "a.wav", "w", 16000, 6) as file:
        for _ in range(240):
            file.write(np.full((16000, 6), 0.1, np.float32))
    with SoundFile(tmp_path / "a.wav", block=4800) as source:
        tracemalloc.start()
        while source.read(1.0) is not None:
            pass
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert most < 5 * 48000 * 6 * 4


def test_a_file_can_be_opened_again_and_only_read_while_open(tmp_path: Path) -> None:
    """Opening starts at the beginning; a closed file raises when it is read, and closing twice does nothing."""
    samples = sine(HZ, 0.2, 48000)
    soundfile.write(tmp_path / "a.wav", samples, 48000, subtype="FLOAT")
    source = SoundFile(tmp_path / "a.wav")
    for _ in range(2):
        with source:
            block = source.read(1.0)
            assert block is not None
            np.testing.assert_array_equal(block.samples, samples[:128])
        source.close()
        with pytest.raises(ClosedError):
            source.read(1.0)
