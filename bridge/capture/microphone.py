"""The microphone: the sound card's callback copies into a ring, the worker reads from it."""

from __future__ import annotations

from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bridge.base.clock import SystemClock, WallClock
from bridge.base.errors import ClosedError, UserError
from bridge.base.events import AudioBlock
from bridge.capture.devices import SoundDevice, find_again, find_input
from bridge.capture.ring import RingWriter, SampleRing
from bridge.capture.settings import CaptureSettings
from bridge.capture.sound_system import list_devices, sound_library
from bridge.capture.source import MOST_S, Source, no_sound_yet, without_nonsense

if TYPE_CHECKING:
    import sounddevice


class CardStream:
    """A stream of a sound card's input, whose callback copies one channel, or the mean of two, into a ring.

    ``device`` and ``rate`` are certain once open: the card's own rate when it refuses the one set.
    """

    def __init__(self, settings: CaptureSettings, clock: WallClock) -> None:
        self.rate = settings.rate_hz
        self.latency_s = 0.0
        self.device: SoundDevice | None = None
        self._settings = settings
        self._clock = clock
        self._ring: RingWriter | None = None
        self._stream: sounddevice.InputStream | None = None

    @property
    def is_open(self) -> bool:
        """Whether it runs, or has ended by itself and was not closed."""
        return self._stream is not None

    def find(self, before: SoundDevice | None = None) -> SoundDevice:
        """The device that the settings ask for, or the one that was there ``before``; it fixes the rate.

        Raises UserError when there is none, or several fit.
        """
        sound, devices = sound_library(), list_devices()
        device = find_input(devices, self._settings.input) if before is None else find_again(devices, before)
        self.device = device
        self.rate = self._accepted_rate(sound, device, self._channels(device))
        return device

    def start(self, ring: RingWriter) -> None:
        """Start the device that was found, into ``ring``. Raises UserError when it cannot be started."""
        sound, device = sound_library(), self.device or self.find()
        self._ring = ring
        try:
            self._stream = sound.InputStream(
                samplerate=self.rate,
                blocksize=self._settings.block,
                device=device.number,
                channels=self._channels(device),
                dtype="float32",
                latency="low",
                callback=self._called,
                finished_callback=ring.end,
            )
            self._stream.start()
        except sound.PortAudioError as error:
            self.close()
            raise UserError(
                f"The sound input {device} cannot be started: {error}. "
                "Close other programs that may hold it, or choose another with --input."
            ) from error
        self.latency_s = float(self._stream.latency)

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
        if self._ring is not None:
            wanted = incoming.mean(axis=1) if self._settings.channel == "mix" else incoming[:, -1]
            self._ring.write(wanted, self._clock.now(), dropped=bool(status))


class Microphone(Source):
    """One channel of a sound card's input, or the mean of two, as it comes, in this process.

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
        self._settings = settings
        self._stream = CardStream(settings, clock or SystemClock())
        self._ring: SampleRing | None = None
        self._next = 0

    @property
    def lost(self) -> int:
        """How many samples were lost because they were not read in time."""
        return self._ring.lost if self._ring is not None else 0

    @property
    def latency_s(self) -> float:
        """How late the sound system says that the sound comes."""
        return self._stream.latency_s

    def open(self) -> None:
        """Find the device and start it. Raises UserError when there is none, several fit, or it cannot be started."""
        self.close()
        device = self._stream.find()
        self.name, self.rate = device.name, self._stream.rate
        self._next, self.dropouts, self.repaired = 0, 0, 0
        self._ring = SampleRing(max(4 * self._settings.block, round(self._settings.ring_seconds * self.rate)))
        try:
            self._stream.start(self._ring.writer)
        except UserError:
            self.close()
            raise

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give what has come since, at most 50 ms of it; ``start`` jumps over samples that were lost."""
        if self._ring is None or not self._stream.is_open:
            raise ClosedError(f"{self.name} was read while it was not open")
        heard = self._ring.read(round(MOST_S * self.rate), timeout_s)
        self.calls_s, self.dropouts = heard.calls_s, self._ring.dropouts
        if not len(heard.samples):
            return None if self._ring.ended else no_sound_yet(self._next, self.rate)
        sound, wrong = without_nonsense(heard.samples)
        self.repaired += wrong
        self._next = heard.start + len(sound)
        return AudioBlock(heard.start, self.rate, sound)

    def close(self) -> None:
        """Stop the device and let go of it; what was counted stays."""
        self._stream.close()
        if self._ring is not None:
            self._ring.close()
