"""The sound devices of this machine. The only file that knows sounddevice.

It is imported when it is first needed, so that everything else works on a machine without PortAudio.
"""

from __future__ import annotations

from types import ModuleType

from bridge.base.errors import UserError
from bridge.capture.devices import SoundDevice


def list_devices() -> list[SoundDevice]:
    """Every sound device as it was when the sound system was first asked: PortAudio looks only once.

    Raises UserError when PortAudio is missing.
    """
    sound = sound_library()
    apis = sound.query_hostapis()
    default_input, default_output = sound.default.device
    return [
        SoundDevice(
            number=number,
            name=device["name"],
            host_api=apis[device["hostapi"]]["name"],
            input_channels=device["max_input_channels"],
            output_channels=device["max_output_channels"],
            rate_hz=device["default_samplerate"],
            is_default_input=number == default_input,
            is_default_output=number == default_output,
        )
        for number, device in enumerate(sound.query_devices())
    ]


def sound_library() -> ModuleType:
    """The module sounddevice. Raises UserError when PortAudio is not installed."""
    try:
        import sounddevice
    except (ImportError, OSError) as error:
        raise UserError(
            "The sound card cannot be used because PortAudio is missing. "
            "On Debian or Ubuntu install it with: apt-get install libportaudio2"
        ) from error
    module: ModuleType = sounddevice
    return module
