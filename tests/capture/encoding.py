"""Sound files for tests, written with PyAV as phones and browsers do."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray


def sine(hz: float, seconds: float, rate: int, peak: float = 0.5) -> NDArray[np.float32]:
    """A sine, float32 of shape (n,)."""
    return (peak * np.sin(2.0 * np.pi * hz * np.arange(round(seconds * rate)) / rate)).astype(np.float32)


def write_sound_track(
    path: Path, codec: str, samples: NDArray[np.float32] | None, rate: int, *, layout: str = "mono", video: str = ""
) -> None:
    """Write a sound track of that codec (the same samples in every channel), a small grey picture track, or both."""
    with av.open(str(path), "w") as container:
        # Every track must be known before the first packet is written.
        pictures = container.add_stream(video, rate=10, width=64, height=64, pix_fmt="yuv420p") if video else None
        sound = None if samples is None else container.add_stream(codec, rate=rate, layout=layout)
        if isinstance(pictures, av.VideoStream):
            for _ in range(10):
                grey = av.VideoFrame.from_ndarray(np.full((64, 64, 3), 128, np.uint8), format="rgb24")
                container.mux(pictures.encode(grey))
            container.mux(pictures.encode(None))
        if isinstance(sound, av.AudioStream) and samples is not None:
            for frame in [*_frames(samples, sound, rate), None]:
                container.mux(sound.encode(frame))


def _frames(samples: NDArray[np.float32], stream: av.AudioStream, rate: int) -> list[av.AudioFrame]:
    """The samples in every channel, in the format and portions that the coder takes."""
    whole = np.repeat(samples[np.newaxis], len(stream.layout.channels), axis=0)
    frame = av.AudioFrame.from_ndarray(whole, format="fltp", layout=stream.layout.name)
    frame.sample_rate = rate
    frame.time_base = Fraction(1, rate)
    frame.pts = 0
    cut = av.AudioResampler(
        format=stream.format.name,
        layout=stream.layout.name,
        rate=rate,
        frame_size=stream.codec_context.frame_size or 1024,
    )
    return [*cut.resample(frame), *cut.resample(None)]
