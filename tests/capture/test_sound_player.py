"""A sound file played through a made-up sound system that calls when the test says so."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile

from bridge.base.errors import SoundError, UserError
from bridge.capture import sound_player as module
from bridge.capture.sound_player import SoundPlayer

RATE, BLOCK = 48000, 256


class PortAudioError(Exception):
    """As the sound system's own."""


class MadeUpSound(SimpleNamespace):
    """A sound system with one loudspeaker of six channels, whose sound is heard 0.02 s after it was asked for."""

    def __init__(self) -> None:
        super().__init__(PortAudioError=PortAudioError, default=SimpleNamespace(device=(-1, 0)))
        self.busy = self.closed = False
        self.callback: Callable[..., None]

    def query_hostapis(self) -> list[dict[str, object]]:
        """One host API."""
        return [{"name": "Made up"}]

    def query_devices(self) -> list[dict[str, object]]:
        """A loudspeaker."""
        device = {"name": "Speakers", "hostapi": 0, "default_samplerate": float(RATE)}
        return [device | {"max_input_channels": 0, "max_output_channels": 6}]

    def OutputStream(self, **options: object) -> MadeUpSound:  # noqa: N802 - named as in sounddevice
        """The stream is the sound system itself."""
        self.__dict__.update(options)
        return self

    def start(self) -> None:
        """Begin, if it may."""
        if self.busy:
            raise PortAudioError("Device unavailable")

    def close(self, *, ignore_errors: bool) -> None:
        """The end."""
        self.closed = ignore_errors

    def call(self) -> np.ndarray:
        """Ask for one block, shape (n, channels)."""
        outgoing = np.full((BLOCK, 2), np.nan, np.float32)
        self.callback(outgoing, BLOCK, SimpleNamespace(currentTime=7.0, outputBufferDacTime=7.02), None)
        return outgoing


class Clock:
    """The monotonic clock as the test sets it."""

    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        """Seconds."""
        return self.now


@pytest.fixture
def sound(monkeypatch: pytest.MonkeyPatch) -> MadeUpSound:
    """The made-up sound system in place of PortAudio."""
    made = MadeUpSound()
    monkeypatch.setitem(sys.modules, "sounddevice", made)
    return made


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """A clock of the test's in place of the machine's."""
    made = Clock()
    monkeypatch.setattr(module, "time", made)
    return made


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """One second in which every sample is another."""
    path = tmp_path / "sound.wav"
    soundfile.write(path, samples(), RATE, subtype="FLOAT")
    return path


def samples() -> np.ndarray:
    """What the file holds."""
    return np.random.default_rng(2).uniform(-0.9, 0.9, RATE).astype(np.float32)


def played(player: SoundPlayer, sound: MadeUpSound, count: int) -> np.ndarray:
    """So many blocks, each asked for once the reader has it, as on a machine that is not too busy."""
    blocks: list[np.ndarray] = []
    until = time.monotonic() + 60.0
    while len(blocks) < count and time.monotonic() < until:
        if player.ready:
            blocks.append(sound.call())
    both = np.concatenate(blocks)
    np.testing.assert_array_equal(both[:, 0], both[:, 1])
    return both[:, 0]


def test_a_part_is_played_sample_for_sample_and_then_silence(sound: MadeUpSound, file: Path) -> None:
    """From 0.25 to 0.5 s on both channels; the device and its reader are gone afterwards."""
    with SoundPlayer(file, 0.25, 0.5) as player:
        heard = played(player, sound, 60)
        assert player.trouble(time.monotonic()) is None
    np.testing.assert_array_equal(heard[:12000], samples()[12000:24000])
    assert not heard[12000:].any()
    assert sound.closed
    assert (sound.channels, sound.samplerate) == (2, RATE)


def test_a_loop_goes_on_without_a_gap(sound: MadeUpSound, file: Path) -> None:
    """0.1 s, four times and more."""
    with SoundPlayer(file, 0.1, 0.2, loop=True) as player:
        heard = played(player, sound, 80)
    np.testing.assert_array_equal(heard[:19200], np.tile(samples()[4800:9600], 4))


def test_where_the_file_ends_sooner_it_is_silent_and_the_loop_keeps_its_length(sound: MadeUpSound, file: Path) -> None:
    """From 0.9 to 1.1 s: 0.1 s of sound, 0.1 s of silence, and again."""
    with SoundPlayer(file, 0.9, 1.1, loop=True) as player:
        heard = played(player, sound, 60)
    one = np.concatenate([samples()[43200:], np.zeros(4800, np.float32)])
    np.testing.assert_array_equal(heard[:14400], np.concatenate([one, one[:4800]]))


def test_when_it_is_heard_is_told_by_the_earliest_calls(sound: MadeUpSound, file: Path, clock: Clock) -> None:
    """0.02 s after it was asked for; calls that come late, as on a busy machine, move nothing."""
    with SoundPlayer(file, 0.0, 1.0) as player:
        assert player.begun_s() is None
        for index, late_s in enumerate([0.003, 0.0, 0.002, 0.004, 0.0, 0.006, 0.001]):
            wait_for(player)
            clock.now = 100.0 + index * BLOCK / RATE + late_s
            sound.call()
            assert player.begun_s() == pytest.approx(100.02 if index else 100.023)


def test_a_card_that_has_lost_time_is_followed(sound: MadeUpSound, file: Path, clock: Clock) -> None:
    """All that is heard later by a third of a second is told so after some seconds."""
    with SoundPlayer(file, 0.0, 0.5, loop=True) as player:
        for index in range(1000):
            wait_for(player)
            clock.now = 100.0 + index * BLOCK / RATE + (0.3 if index >= 400 else 0.0)
            sound.call()
        assert player.begun_s() == pytest.approx(100.32)


def test_a_card_that_stops_calling_is_told(sound: MadeUpSound, file: Path, clock: Clock) -> None:
    """After a second without a call."""
    with SoundPlayer(file, 0.0, 1.0) as player:
        wait_for(player)
        sound.call()
        assert player.trouble(clock.now + 0.5) is None
        assert "stopped" in str(player.trouble(clock.now + 1.5))


def test_gaps_are_told_and_nothing_is_left_out(sound: MadeUpSound, file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked before the reader has anything it gives silence, and the sound from its first sample on afterwards."""
    monkeypatch.setattr(SoundPlayer, "_read", lambda _self: None)
    with SoundPlayer(file, 0.0, 1.0) as player:
        assert not sound.call().any()
        assert "gaps" in str(player.trouble(time.monotonic()))
        begun_s = player.begun_s()
        sound.call()
        assert begun_s is not None


def test_what_cannot_be_played_is_refused(sound: MadeUpSound, file: Path, tmp_path: Path) -> None:
    """A file that is not there, a device that is not there, one that is busy; with what to do."""
    with pytest.raises(SoundError, match="does not exist"), SoundPlayer(tmp_path / "none.wav", 0.0, 1.0):
        pass
    with pytest.raises(UserError, match="Speakers"), SoundPlayer(file, 0.0, 1.0, output="Headphones"):
        pass
    sound.busy = True
    with pytest.raises(UserError, match=r"Device unavailable.*--output"), SoundPlayer(file, 0.0, 1.0):
        pass


def test_a_file_that_breaks_off_is_told(sound: MadeUpSound, tmp_path: Path) -> None:
    """Silence follows, and the notes go on."""
    path = tmp_path / "broken.flac"
    soundfile.write(path, samples(), RATE)
    data = bytearray(path.read_bytes())
    data[len(data) // 2 :] = bytes(len(data) - len(data) // 2)
    path.write_bytes(data)
    with SoundPlayer(path, 0.0, 1.0) as player:
        until = time.monotonic() + 60.0
        while player.trouble(time.monotonic()) is None and time.monotonic() < until:
            if player.ready:
                sound.call()
        assert "breaks off" in str(player.trouble(time.monotonic()))


def wait_for(player: SoundPlayer) -> None:
    """Wait until the reader has a block."""
    for _ in range(10**7):
        if player.ready:
            return
    raise AssertionError("the reader gives nothing")
