"""Playing a sound while listening: what goes out and what comes in are counted by the same clock."""

from __future__ import annotations

import threading
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import UserError
from bridge.capture.devices import SoundDevice, find_input, find_output
from bridge.capture.settings import CaptureSettings
from bridge.capture.sound_system import list_devices, sound_library
from bridge.capture.source import require_open

Sound = NDArray[np.float32]

#: A sound card that has not played the sound this long after it should have ended has stopped, in seconds.
_LATE_S = 5.0


class Loudspeaker:
    """An output and the input beside it, run together while the ``with`` lasts; silent except in :meth:`play`.

    ``rate`` is certain once open. ``dropouts`` counts how often the sound system said that it lost some sound.
    """

    def __init__(self, settings: CaptureSettings, output: str | int = "default") -> None:
        self.rate = settings.rate_hz
        self.name = str(output)
        self.dropouts = 0
        self._settings = settings
        self._wanted = output
        self._stream: Any = None
        self._sound: Sound = np.zeros(0, np.float32)
        self._heard: Sound = np.zeros(0, np.float32)
        self._place = 0
        self._over = threading.Event()

    def __enter__(self) -> Self:
        """Find both devices and start them. Raises UserError when one is not there or they cannot run together."""
        sound = sound_library()
        devices = list_devices()
        source = find_input(devices, self._settings.input)
        output = find_output(devices, self._wanted)
        self.name = output.name
        channel = 1 if self._settings.channel == "mix" else self._settings.channel
        channels = (min(channel, source.input_channels), min(2, output.output_channels))
        self.rate = _common_rate(sound, self._settings.rate_hz, source, output, channels)
        try:
            self._stream = sound.Stream(
                samplerate=self.rate,
                blocksize=self._settings.block,
                device=(source.number, output.number),
                channels=channels,
                dtype="float32",
                latency="low",
                callback=self._called,
            )
            self._stream.start()
        except sound.PortAudioError as error:
            self._close()
            raise UserError(
                f"The sound output {output.described('output')} and the input {source} cannot run together: {error}. "
                "Choose another with --output, or leave the loudspeaker out with --no-sound."
            ) from error
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._close()

    def play(self, sound: Sound) -> Sound:
        """Play ``sound`` (n,) on all channels and give what was heard, (n,), sample for sample from its beginning on.

        Raises UserError when the sound card stops.
        """
        self.begin(sound)
        done = self._over.wait(len(sound) / self.rate + _LATE_S)
        self._sound = np.zeros(0, np.float32)
        if not done:
            raise UserError(f"The sound output {self.name} stopped. Check its plug and try again.")
        return self._heard

    def begin(self, sound: Sound) -> None:
        """Begin to play ``sound`` (n,) on all channels and to hear; :meth:`heard_from` gives what came so far."""
        require_open(self.name, is_open=self._stream is not None)
        self._sound = np.zeros(0, np.float32)
        self._heard = np.zeros_like(sound)
        self._place = 0
        self._over.clear()
        # Last, since it is what the callback looks at.
        self._sound = sound

    def heard_from(self, start: int) -> Sound:
        """What was heard so far since :meth:`begin`, from sample ``start`` of the sound on; never waits."""
        return self._heard[start : self._place]

    @property
    def latency_s(self) -> float:
        """Seconds that the sound system itself says it takes, out and in together; 0 where it says nothing."""
        return float(sum(self._stream.latency)) if self._stream is not None else 0.0

    def _called(self, incoming: Sound, outgoing: Sound, frames: int, time: Any, status: Any) -> None:  # noqa: ANN401, ARG002
        """Give the next part and keep what came at the same time, (frames, channels): nothing here may wait."""
        sound, start = self._sound, self._place
        part = sound[start : start + frames]
        count = len(part)
        outgoing[:count] = part[:, np.newaxis]
        outgoing[count:] = 0.0
        if not count:
            return
        if status:
            self.dropouts += 1
        self._heard[start : start + count] = incoming[:count, -1]
        self._place = start + count
        if self._place >= len(sound):
            self._over.set()

    def _close(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            stream.close(ignore_errors=True)


def _common_rate(
    sound: Any,  # noqa: ANN401
    wanted: int,
    source: SoundDevice,
    output: SoundDevice,
    channels: tuple[int, int],
) -> int:
    """The rate that is set, or the input's own when either refuses that."""
    try:
        sound.check_input_settings(source.number, channels[0], "float32", samplerate=wanted)
        sound.check_output_settings(output.number, channels[1], "float32", samplerate=wanted)
    except sound.PortAudioError:
        return round(source.rate_hz)
    return wanted
