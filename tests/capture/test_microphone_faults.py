"""What the microphone does when the sound system is in the way, with a made-up sound system."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest

from bridge.base.clock import ManualClock
from bridge.base.errors import UserError
from bridge.capture.microphone import Microphone
from bridge.capture.settings import CaptureSettings
from bridge.capture.sound_system import list_devices


class PortAudioError(Exception):
    """As the sound system's own."""


class MadeUpSound(SimpleNamespace):
    """A sound system with one input that runs at 44100 Hz and nothing else; ``busy`` lets no stream start."""

    def __init__(self, *, busy: bool = False) -> None:
        super().__init__(PortAudioError=PortAudioError, default=SimpleNamespace(device=(0, -1)))
        self.busy = busy
        self.callback: Callable[..., None]
        self.finished_callback: Callable[[], None]
        self.closed = False

    def query_hostapis(self) -> list[dict[str, object]]:
        """One host API."""
        return [{"name": "Made up"}]

    def query_devices(self) -> list[dict[str, object]]:
        """One device."""
        channels = {"max_input_channels": 1, "max_output_channels": 0}
        return [{"name": "Cheap mic", "hostapi": 0, "default_samplerate": 44100.0, **channels}]

    def check_input_settings(self, *_which: object, samplerate: int) -> None:
        """Only its own rate is taken."""
        if samplerate != 44100:
            raise PortAudioError("Invalid sample rate")

    def InputStream(self, **options: object) -> MadeUpSound:  # noqa: N802 - named as in sounddevice
        """The stream is the sound system itself."""
        self.__dict__.update(options)
        self.latency = 0.01
        return self

    def start(self) -> None:
        """Begin, if it may."""
        if self.busy:
            raise PortAudioError("Device unavailable")

    def close(self, *, ignore_errors: bool) -> None:
        """The end; PortAudio then says that the stream has finished."""
        self.closed = ignore_errors


@pytest.fixture
def sound(monkeypatch: pytest.MonkeyPatch) -> MadeUpSound:
    """The made-up sound system in place of PortAudio."""
    made = MadeUpSound()
    monkeypatch.setitem(sys.modules, "sounddevice", made)
    return made


def test_devices_are_listed_with_what_a_user_chooses_by(sound: MadeUpSound) -> None:
    """Number, name, host API, channels and which one is the default are all there."""
    assert [str(device) for device in list_devices()] == ["0: Cheap mic (Made up, 1 in, the default)"]


def test_the_cards_own_rate_is_used_when_48000_is_refused(sound: MadeUpSound) -> None:
    """The stream is opened at what the card does, in blocks, as float32, with low latency."""
    with Microphone(CaptureSettings()) as microphone:
        assert microphone.rate == 44100
        assert microphone.latency_s == 0.01
    assert (sound.samplerate, sound.blocksize, sound.dtype, sound.latency) == (44100, 128, "float32", 0.01)


def test_a_card_that_does_not_start_is_a_user_error_and_is_let_go(sound: MadeUpSound) -> None:
    """The message names the card and what to do, and the stream is closed."""
    sound.busy = True
    with pytest.raises(UserError, match=r"Cheap mic .*Device unavailable.*Close other programs"):
        Microphone(CaptureSettings()).open()
    assert sound.closed


def test_a_stream_that_ends_by_itself_gives_what_is_left_and_then_ends(sound: MadeUpSound) -> None:
    """No samples while it runs, then those that came, then None."""
    with Microphone(CaptureSettings()) as microphone:
        nothing = microphone.read(0.0)
        assert nothing is not None
        assert len(nothing.samples) == 0
        sound.callback(np.full((128, 1), 0.5, np.float32), 128, None, None)
        sound.finished_callback()
        block = microphone.read(0.0)
        assert block is not None
        np.testing.assert_array_equal(block.samples, np.full(128, 0.5, np.float32))
        assert microphone.read(0.0) is None


def test_drop_outs_and_values_that_are_no_numbers_are_counted(sound: MadeUpSound) -> None:
    """A status flag of the sound system counts one drop-out; NaN becomes 0 and counts one repair."""
    with Microphone(CaptureSettings(), ManualClock()) as microphone:
        sound.callback(np.array([[0.5], [np.nan]], np.float32), 2, None, "input overflow")
        block = microphone.read(0.0)
        assert block is not None
        assert block.samples.tolist() == [0.5, 0.0]
        assert (microphone.dropouts, microphone.repaired) == (1, 1)


def test_the_calls_of_a_block_are_told_by_when_they_came(sound: MadeUpSound) -> None:
    """Two that were read together, each with its own time, and none of them again with the next block."""
    clock = ManualClock(50.0)
    with Microphone(CaptureSettings(), clock) as microphone:
        for _ in range(2):
            clock.time += 3.0
            sound.callback(np.zeros((1, 1), np.float32), 1, None, None)
        microphone.read(0.0)
        assert list(microphone.calls_s) == [53.0, 56.0]
        microphone.read(0.0)
        assert list(microphone.calls_s) == []
