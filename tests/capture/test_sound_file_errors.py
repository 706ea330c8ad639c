"""What is wrong with a sound file is said in one sentence, and what can be read of it is."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.base.errors import SoundError
from bridge.capture.sound_file import SoundFile
from capture.encoding import sine, write_sound_track

RNG = np.random.default_rng(5)
#: Noise, because a bare sine is coded into so few pieces that half of them would be none.
NOISE = (0.1 * RNG.standard_normal(6 * 48000)).astype(np.float32)


def read_until_error(path: Path) -> tuple[int, SoundError]:
    """How many samples came before the error, and the error."""
    counts: list[int] = []
    with pytest.raises(SoundError) as error:
        _read(path, counts)
    assert str(error.value).startswith(str(path))
    return sum(counts), error.value


def _read(path: Path, counts: list[int]) -> None:
    """Read to the end, noting how much comes."""
    with SoundFile(path) as source:
        while (block := source.read(1.0)) is not None:
            counts.append(len(block.samples))


def folder(path: Path) -> None:
    """A folder."""
    path.mkdir()


def header_only(path: Path) -> None:
    """A WAV with a header and nothing after it."""
    soundfile.write(path, NOISE[:0], 48000)


def video_only(path: Path) -> None:
    """A video without sound."""
    write_sound_track(path, "", None, 0, video="mpeg4")


@pytest.mark.parametrize(
    ("name", "make", "problem"),
    [
        ("gone.wav", lambda path: None, "does not exist"),  # noqa: ARG005
        ("folder.wav", folder, "is a folder"),
        ("empty.wav", Path.touch, "is empty (0 bytes)"),
        ("header.wav", header_only, "holds no samples"),
        ("notes.wav", lambda path: path.write_text("practise the third\n" * 50), "holds no sound that can be read"),
        ("noise.mp3", lambda path: path.write_bytes(bytes(7919) * 3), "holds no sound that can be read"),
        ("photo.mp4", video_only, "has no sound track"),
    ],
)
def test_what_holds_no_sound_is_refused(
    tmp_path: Path, name: str, make: Callable[[Path], object], problem: str
) -> None:
    """Each kind of file without sound gets its own plain sentence and not a sample."""
    make(tmp_path / name)
    count, error = read_until_error(tmp_path / name)
    assert error.exit_status == 2
    assert count == 0
    assert problem in str(error)


def half(path: Path) -> None:
    """Keep the first half of a file."""
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])


@pytest.mark.parametrize("name", ["a.wav", "a.aiff", "a.flac", "a.mp3"])
def test_a_file_cut_short_gives_what_is_there_and_then_says_so(tmp_path: Path, name: str) -> None:
    """Of half a file about half the sound comes, and then the length that is missing is told."""
    soundfile.write(tmp_path / name, NOISE, 48000)
    half(tmp_path / name)
    count, error = read_until_error(tmp_path / name)
    assert "is cut short" in str(error)
    assert "of 6.0 s are there" in str(error)
    assert 2.5 < count / 48000 < 3.5


@pytest.mark.parametrize(("name", "codec", "video"), [("a.webm", "libopus", ""), ("a.webm", "libopus", "libvpx")])
def test_a_browsers_recording_cut_short_gives_what_is_there_and_then_says_so(
    tmp_path: Path, name: str, codec: str, video: str
) -> None:
    """Half a WEBM gives its first half before it is told that the rest is missing."""
    write_sound_track(tmp_path / name, codec, NOISE, 48000, video=video)
    half(tmp_path / name)
    count, error = read_until_error(tmp_path / name)
    assert "is cut short" in str(error) or "is damaged" in str(error)
    assert 1.5 < count / 48000 < 3.5


@pytest.mark.parametrize("name", ["a.ogg", "voice.opus"])
def test_a_voice_message_cut_short_gives_what_is_there_and_then_says_so(tmp_path: Path, name: str) -> None:
    """Ogg says nowhere how long it is, but half a message stops within a page."""
    if name.endswith("ogg"):
        soundfile.write(tmp_path / name, NOISE, 48000)
    else:
        write_sound_track(tmp_path / name, "libopus", NOISE, 48000)
    half(tmp_path / name)
    count, error = read_until_error(tmp_path / name)
    assert "is damaged or cut short" in str(error)
    assert 1.5 < count / 48000 < 3.5


def test_a_phone_video_cut_short_before_its_index_is_called_damaged(tmp_path: Path) -> None:
    """Half an MP4 whose index comes last cannot be read at all, and the advice is to copy it again."""
    write_sound_track(tmp_path / "a.mp4", "aac", NOISE, 48000)
    half(tmp_path / "a.mp4")
    count, error = read_until_error(tmp_path / "a.mp4")
    assert count == 0
    assert "damaged or cut short: copy it again" in str(error)


@pytest.mark.parametrize(("peak", "heard"), [(0.0, False), (1e-4, False), (0.01, True)])
def test_a_recording_in_which_nothing_can_be_heard_is_called_silent(tmp_path: Path, peak: float, heard: bool) -> None:
    """Digital silence and the noise of a dead input are silent; a very quiet tone is not."""
    soundfile.write(tmp_path / "a.wav", sine(440.0, 1.0, 48000, peak), 48000, subtype="FLOAT")
    with SoundFile(tmp_path / "a.wav") as source:
        while source.read(1.0) is not None:
            pass
    assert source.peak == pytest.approx(peak, rel=0.01)
    if heard:
        source.require_sound()
    else:
        with pytest.raises(SoundError, match="is silent throughout"):
            source.require_sound()


def test_an_impossible_sample_rate_is_refused(tmp_path: Path) -> None:
    """A header that claims 8 samples a second is not believed."""
    soundfile.write(tmp_path / "a.wav", NOISE[:800], 8)
    _, error = read_until_error(tmp_path / "a.wav")
    assert "claims a sample rate of 8 Hz" in str(error)
