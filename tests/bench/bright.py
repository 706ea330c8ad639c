"""Rows of brightness: a low-pass swept open over every sampled reed, and the same reeds softer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from bench.special import Numbers
from bench.wanted import Target
from bridge.capture.reed_tone import breath_noise
from bridge.follow.timbre import Brightness
from sounds.gestures import low_passed
from sounds.known import Floats, KnownSound, TruthNote
from sounds.sampled import sampled

KEYS = ("low-F", "C", "high-G")
HOP = 64
#: Corners of the low-pass (second order, Butterworth), Hz, evenly spread as an ear hears them.
CORNERS_HZ = tuple(np.geomspace(1000.0, 6000.0, 8).tolist())
SOFTER_DB = 20.0
#: Noise of the room, dBFS.
NOISE_DB = -60.0
#: The settled end of a note, seconds before its end.
SETTLED_S = (0.2, 0.02)


def brightness() -> Numbers:
    """The least step of the reading from corner to corner, and the most it moves with the level over a room's noise."""
    least_step, most_moved = np.inf, 0.0
    for key in KEYS:
        sound = sampled("every hole", key)
        noise = 10.0 ** (NOISE_DB / 20.0) * breath_noise(len(sound.samples), sound.rate, np.random.default_rng(5))
        opened = [low_passed(sound.samples, sound.rate, corner) for corner in CORNERS_HZ]
        for note in sound.notes:
            bright = [float(np.median(_readings(sound, note, samples))) for samples in opened]
            least_step = min(least_step, float(np.min(np.diff(bright))))
            loud, soft = (
                _readings(sound, note, sound.samples * 10.0 ** (-softer / 20.0) + noise) for softer in (0.0, SOFTER_DB)
            )
            most_moved = max(most_moved, float(np.max(np.abs(loud - soft))))
    return {"least step": least_step, "moved by level": most_moved}


def _readings(sound: KnownSound, note: TruthNote, samples: NDArray[np.floating]) -> Floats:
    """The reading at every hop of a note's settled end; its pitch is known."""
    begin, end = (round((note.end_s - before) * sound.rate) for before in SETTLED_S)
    held, meter = np.asarray(samples[begin:end], dtype=np.float64), Brightness(sound.rate, HOP / sound.rate)
    return np.array([meter.step(held, at, note.settled_hz, 1.0) for at in range(2400, len(held), HOP)])


ROWS: dict[str, Callable[[], Numbers]] = {"brightness": brightness}
TARGETS: tuple[Target, ...] = (
    Target("bright, low-pass swept from 1 to 6 kHz: least step", "brightness", "least step", ">=", 0.001),
    Target("bright, 20 dB softer: most it moves", "brightness", "moved by level", "<=", 0.05),
)
