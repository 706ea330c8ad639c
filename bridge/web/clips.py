"""Short stretches of sound as ``data:`` addresses that any browser plays and any mail takes.

MP3, because phones of every make have played it for years, where Ogg came to some of them late; 24 kHz mono keeps all
of a harp that tells a pitch (harmonics up to 11 kHz) at some 6 kB a second. Where libsndfile was built without MP3 it
is WAV, eight times as large.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

RATE = 24000
#: Loudest sample of a player's loudest moment, full scale 1: quiet enough to begin with (-14 dBFS).
_PEAK = 0.2
#: What stands out of that, such as a knock on the microphone, is no louder than this: it would startle.
_LOUDEST = 0.4
#: Softer than this a recording is not made louder any further, full scale 1.
_SOFTEST = 0.002
#: Before and after a note so much is heard too, and a clip lasts no longer than this, seconds.
_BEFORE_S, _AFTER_S, _LONGEST_S = 0.15, 0.2, 10.0
_FADE_S = 0.01
#: libsndfile's names of format and encoding, and the media type (RFC 3003; IANA has none for WAV, browsers know this).
_MP3 = ("MP3", "MPEG_LAYER_III", "audio/mpeg")
_WAV = ("WAV", "PCM_16", "audio/wav")


@dataclass(frozen=True, slots=True)
class Clip:
    """A playable stretch: its address, its length, and how long after its beginning the note begins, seconds."""

    uri: str
    length_s: float
    note_s: float


def quiet_gain(samples: Samples) -> float:
    """By what all of a player's clips are multiplied, so that both players are as loud and none is loud."""
    loudest = float(np.percentile(np.abs(samples), 99.9)) if len(samples) else 0.0
    return _PEAK / max(loudest, _SOFTEST)


def clip(samples: Samples, rate: int, start_s: float, end_s: float, gain: float) -> Clip:
    """The stretch of a note from ``start_s`` to ``end_s`` of ``samples`` (n,) at ``rate`` Hz, with some around it."""
    import soundfile
    import soxr

    first = max(0, round((start_s - _BEFORE_S) * rate))
    last = min(len(samples), round(min(end_s + _AFTER_S, start_s + _LONGEST_S) * rate))
    part = np.clip(samples[first:last] * gain, -_LOUDEST, _LOUDEST).astype(np.float32)
    fade = min(round(_FADE_S * rate), len(part) // 2)
    if fade:
        rising = np.linspace(0.0, 1.0, fade, dtype=np.float32)
        part[:fade] *= rising
        part[-fade:] *= rising[::-1]
    file = io.BytesIO()
    kind, subtype, media = _MP3 if _MP3[0] in soundfile.available_formats() else _WAV
    soundfile.write(file, soxr.resample(part, rate, RATE), RATE, format=kind, subtype=subtype)
    data = base64.b64encode(file.getvalue()).decode("ascii")
    return Clip(f"data:{media};base64,{data}", len(part) / rate, start_s - first / rate)
