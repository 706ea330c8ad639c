"""Playing while listening, with a made-up sound system that calls when the test says so."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest

from bridge.base.errors import ClosedError, UserError
from bridge.capture import loudspeaker as module
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.settings import CaptureSettings

BLOCK = 64


class PortAudioError(Exception):
    """As the sound system's own."""


class MadeUpSound(SimpleNamespace):
    """A sound system whose input hears half of what its output plays, a block later, on its second channel."""

    def __init__(self) -> None:
        super().__init__(PortAudioError=PortAudioError, default=SimpleNamespace(device=(0, 1)))
        self.busy = self.dead = False
        self.rates: tuple[int, ...] = (48000,)
        self.callback: Callable[..., None]
        self.closed = False
        self.played: list[np.ndarray] = []
        self.status: str | None = None
        self._stopping = threading.Event()

    def query_hostapis(self) -> list[dict[str, object]]:
        """One host API."""
        return [{"name": "Made up"}]

    def query_devices(self) -> list[dict[str, object]]:
        """A microphone with two channels and a loudspeaker with six."""
        return [
            {
                "name": name,
                "hostapi": 0,
                "default_samplerate": 44100.0,
                "max_input_channels": i,
                "max_output_channels": o,
            }
            for name, i, o in (("Mic", 2, 0), ("Speakers", 0, 6))
        ]

    def check_input_settings(self, *_which: object, samplerate: int) -> None:
        """Only some rates are taken."""
        if samplerate not in self.rates:
            raise PortAudioError("Invalid sample rate")

    check_output_settings = check_input_settings

    def Stream(self, **options: object) -> MadeUpSound:  # noqa: N802 - named as in sounddevice
        """The stream is the sound system itself."""
        self.__dict__.update(options)
        return self

    def start(self) -> None:
        """Begin to call, if it may."""
        if self.busy:
            raise PortAudioError("Illegal combination of I/O devices")
        if not self.dead:
            self._thread = threading.Thread(target=self._run)
            self._thread.start()

    def close(self, *, ignore_errors: bool) -> None:
        """The end."""
        self._stopping.set()
        if not (self.busy or self.dead):
            self._thread.join()
        self.closed = ignore_errors

    def _run(self) -> None:
        before = np.zeros((BLOCK, 2), np.float32)
        while not self._stopping.wait(0.0005):
            incoming = np.stack([np.zeros(BLOCK), 0.5 * before[:, 0]], axis=1).astype(np.float32)
            outgoing = np.full((BLOCK, 2), np.nan, np.float32)
            self.callback(incoming, outgoing, BLOCK, None, self.status)
            self.played.append(outgoing)
            before = outgoing


@pytest.fixture
def sound(monkeypatch: pytest.MonkeyPatch) -> MadeUpSound:
    """The made-up sound system in place of PortAudio."""
    made = MadeUpSound()
    monkeypatch.setitem(sys.modules, "sounddevice", made)
    return made


SOUND = np.linspace(-0.5, 0.5, 1000, dtype=np.float32)


def test_what_is_heard_is_counted_from_the_first_sample_played(sound: MadeUpSound) -> None:
    """Half of it comes back one block later, each time it is played; both channels sound, and otherwise silence."""
    with Loudspeaker(CaptureSettings(channel=2)) as loudspeaker:
        assert (loudspeaker.name, loudspeaker.rate, loudspeaker.dropouts) == ("Speakers", 48000, 0)
        heard = loudspeaker.play(SOUND)
        assert not heard[:BLOCK].any()
        np.testing.assert_array_equal(heard[BLOCK:], 0.5 * SOUND[:-BLOCK])
        # The first block of the second may still hear the end of the first.
        again = loudspeaker.play(SOUND)
        np.testing.assert_array_equal(again[BLOCK:], 0.5 * SOUND[:-BLOCK])
    assert sound.closed
    played = np.concatenate(sound.played)
    np.testing.assert_array_equal(played[:, 0], played[:, 1])
    assert np.count_nonzero(played[:, 0]) == 2 * np.count_nonzero(SOUND)
    assert (sound.device, sound.channels, sound.samplerate, sound.blocksize) == ((0, 1), (2, 2), 48000, 128)
    with pytest.raises(ClosedError):
        loudspeaker.play(SOUND)


def test_lost_sound_is_counted(sound: MadeUpSound) -> None:
    """A status flag of the sound system while something is played is a dropout."""
    sound.status = "output underflow"
    with Loudspeaker(CaptureSettings(channel="mix")) as loudspeaker:
        loudspeaker.play(SOUND)
        assert loudspeaker.dropouts == -(-len(SOUND) // BLOCK)


def test_the_inputs_own_rate_is_used_where_either_refuses(sound: MadeUpSound) -> None:
    """The rate is then certain once open."""
    sound.rates = (44100,)
    with Loudspeaker(CaptureSettings(), "speak") as loudspeaker:
        assert loudspeaker.rate == 44100


def test_devices_that_cannot_run_together_are_a_user_error(sound: MadeUpSound) -> None:
    """The message names both and what to do, and the stream is closed."""
    sound.busy = True
    with pytest.raises(UserError, match=r"Speakers .*6 out.* Mic .*cannot run together.*--output.*--no-sound"):
        Loudspeaker(CaptureSettings()).__enter__()
    assert sound.closed


def test_a_card_that_stops_is_a_user_error(sound: MadeUpSound, monkeypatch: pytest.MonkeyPatch) -> None:
    """It does not wait for ever."""
    sound.dead = True
    monkeypatch.setattr(module, "_LATE_S", 0.05)
    with pytest.raises(UserError, match="Speakers stopped"), Loudspeaker(CaptureSettings()) as loudspeaker:
        loudspeaker.play(SOUND)
    assert sound.closed
