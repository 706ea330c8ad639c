"""The microphone: the sound card's callback copies into a ring, the worker reads from it."""

from __future__ import annotations

from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bridge.base.clock import SystemClock, WallClock
from bridge.base.errors import UserError
from bridge.base.events import AudioBlock
from bridge.capture.devices import SoundDevice, find_input
from bridge.capture.ring import SampleRing
from bridge.capture.settings import CaptureSettings
from bridge.capture.sound_system import list_devices, sound_library
from bridge.capture.source import Source, no_sound_yet, require_open, without_nonsense

if TYPE_CHECKING:
    import sounddevice

_MOST_S = 0.05


class Microphone(Source):
    """One channel of a sound card's input, or the mean of two, as it comes.

    ``rate`` is certain once open: the card's own when it refuses the one set. ``lost`` counts samples that the ring
    could not keep, ``dropouts`` the callbacks for which the sound system said that it lost some itself, ``repaired``
    the values that were no numbers and became 0.
    """

    live = True
    endless = True

    def __init__(self, settings: CaptureSettings, clock: WallClock | None = None) -> None:
        self.name = str(settings.input)
        self.rate = settings.rate_hz
        self.dropouts = 0
        self.repaired = 0
        self.latency_s = 0.0
        self._settings = settings
        self._clock = clock or SystemClock()
        self._ring = SampleRing(1)
        self._stream: sounddevice.InputStream | None = None
        self._ended = False
        self._called_at = 0.0
        self._next = 0

    @property
    def lost(self) -> int:
        """How many samples were lost because they were not read in time."""
        return self._ring.lost

    @property
    def last_callback_age_s(self) -> float:
        """Seconds since the sound card last called. A card that was unplugged may just stop calling."""
        return self._clock.now() - self._called_at

    def open(self) -> None:
        """Find the device and start it. Raises UserError when there is none, several fit, or it cannot be started."""
        self.close()
        sound = sound_library()
        device = find_input(list_devices(), self._settings.input)
        channels = self._channels(device)
        self.name = device.name
        self.rate = self._accepted_rate(sound, device, channels)
        self._ring = SampleRing(max(4 * self._settings.block, round(self._settings.ring_seconds * self.rate)))
        self._ended, self._next, self.dropouts, self.repaired = False, 0, 0, 0
        self._called_at = self._clock.now()
        try:
            self._stream = sound.InputStream(
                samplerate=self.rate,
                blocksize=self._settings.block,
                device=device.number,
                channels=channels,
                dtype="float32",
                latency="low",
                callback=self._called,
                finished_callback=self._finished,
            )
            self._stream.start()
        except sound.PortAudioError as error:
            self.close()
            raise UserError(
                f"The sound input {device} cannot be started: {error}. "
                "Close other programs that may hold it, or choose another with --input."
            ) from error
        self.latency_s = float(self._stream.latency)

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give what has come since, at most 50 ms of it; ``start`` jumps over samples that were lost."""
        require_open(self.name, is_open=self._stream is not None)
        start, samples = self._ring.read(round(_MOST_S * self.rate), timeout_s)
        if not len(samples):
            return None if self._ended else no_sound_yet(self._next, self.rate)
        sound, wrong = without_nonsense(samples)
        self.repaired += wrong
        self._next = start + len(sound)
        return AudioBlock(start, self.rate, sound)

    def close(self) -> None:
        """Stop the device and let go of it."""
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close(ignore_errors=True)

    def _channels(self, device: SoundDevice) -> int:
        """How many channels to open so as to get at those that are wanted."""
        wanted = self._settings.channel
        if wanted == "mix":
            return min(2, device.input_channels)
        if wanted > device.input_channels:
            raise UserError(f"The sound input {device} has no channel {wanted}. Choose 1 to {device.input_channels}.")
        return wanted

    def _accepted_rate(self, sound: ModuleType, device: SoundDevice, channels: int) -> int:
        """The rate that is set, or the card's own when it refuses that."""
        try:
            sound.check_input_settings(device.number, channels, "float32", samplerate=self._settings.rate_hz)
        except sound.PortAudioError:
            return round(device.rate_hz)
        return self._settings.rate_hz

    def _called(self, incoming: NDArray[np.float32], frames: int, time: Any, status: Any) -> None:  # noqa: ANN401, ARG002
        """Take a block from the sound card, (frames, channels): nothing here may wait."""
        self._called_at = self._clock.now()
        if status:
            self.dropouts += 1
        self._ring.write(incoming.mean(axis=1) if self._settings.channel == "mix" else incoming[:, -1])

    def _finished(self) -> None:
        """The stream ended by itself or was closed."""
        self._ended = True
        self._ring.wake()
