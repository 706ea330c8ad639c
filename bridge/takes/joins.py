"""Where re-sung sound meets sound as it was played: no click, no hole, no step in level.

Conventions: samples are float64 of shape (n,), full scale +-1.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Levels are compared over windows of this length, s: some periods of the lowest note, shorter than a syllable.
_LEVEL_S = 0.04
#: The level is mended by no more than this, in dB: laying periods anew costs less than 3.
_MOST_DB = 6.0
_NOTHING = 1e-12
#: A reed has stopped when it is this far below what it was, or this near to what else there is, in dB.
_RUNG_OUT_DB, _ROOM_DB = 50.0, 6.0
_RING_STEP_S = 0.005


def rise(count: int) -> Floats:
    """From 0 to 1 as a raised cosine, shape (count,); with its mirror image it adds up to 1."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * (np.arange(count) + 0.5) / max(count, 1)))


def late_by(sung: Floats, played: Floats, most: int) -> int:
    """By how many samples, at most ``most`` either way, ``sung`` must come later to lie on ``played``.

    Both have the same number of samples; the place is that of the highest normalised cross-correlation.
    """
    size = len(played) - 2 * most
    if size <= 0:
        return 0
    middle = played[most : most + size]
    windows = np.lib.stride_tricks.sliding_window_view(sung, size)
    likeness = (windows @ middle) / np.sqrt(np.sum(windows**2, axis=1) + _NOTHING)
    return most - int(np.argmax(likeness))


def level_again(sung: Floats, played: Floats, rate: int) -> Floats:
    """``sung`` with the level that ``played``, of the same shape, has at each moment."""
    window = np.hanning(max(3, round(_LEVEL_S * rate)))
    powers = [np.maximum(_smoothed(samples**2, window), _NOTHING) for samples in (played, sung)]
    most = 10.0 ** (_MOST_DB / 20.0)
    return np.asarray(sung * np.clip(np.sqrt(powers[0] / powers[1]), 1.0 / most, most))


def rings_s(samples: Floats, rate: int, level: float) -> float:
    """How long a note rings on in the sound after its end, in seconds; ``level`` is the RMS that it had."""
    step = round(_RING_STEP_S * rate)
    count = len(samples) // step
    if count == 0:
        return 0.0
    levels = np.sqrt(np.mean(samples[: count * step].reshape(count, step) ** 2, axis=1))
    quiet = max(level * 10.0 ** (-_RUNG_OUT_DB / 20.0), float(np.min(levels)) * 10.0 ** (_ROOM_DB / 20.0))
    ringing = np.flatnonzero(levels > quiet)
    return min((int(ringing[-1]) + 1) * step, len(samples)) / rate if len(ringing) else 0.0


def _smoothed(power: Floats, window: Floats) -> Floats:
    """Mean over the window around each sample, by the fast Fourier transform; at the ends over what there is."""
    size = len(power) + len(window) - 1
    length = 1 << (size - 1).bit_length()
    spectrum = np.fft.rfft(window, length)
    sums, counts = (np.fft.irfft(np.fft.rfft(x, length) * spectrum, length) for x in (power, np.ones(len(power))))
    begin = (len(window) - 1) // 2
    return np.asarray(sums[begin : begin + len(power)] / counts[begin : begin + len(power)])
