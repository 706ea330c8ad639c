"""Vibrato: a pitch that swings evenly about its place, told from bends, glides and an unsteady breath.

Where the pitch swings is looked for in windows: in each a slow curve (a cubic) and the best sine are fitted together
by least squares, and it is vibrato where the sine explains nearly all that the slow curve does not. This is the
Lomb-Scargle periodogram (Scargle, Astrophysical Journal 263, 1982) with a slow trend in place of a mean. Rates lie in
the range measured for voice, strings and flute (4 to 8 Hz) and a little beyond.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Slowest and fastest swing that is looked for, Hz, and how finely.
_SLOWEST_HZ, _FASTEST_HZ, _STEP_HZ = 3.2, 10.0, 0.2
_SHARPENED_HZ = 0.5
#: One window, from one window to the next, and the shortest note in which vibrato can be told at all, seconds.
_WINDOW_S, _HOP_S, _SHORTEST_S = 0.5, 0.04, 0.4
#: Part of the motion that the sine explains, and the least that it swings to either side, cents.
_EXPLAINED, _LEAST_CENTS = 0.85, 4.0
#: From one window to the next the rate may change so much, Hz; and so many swings there are at least.
_SAME_HZ, _LEAST_SWINGS = 1.0, 3.0
#: What does not last to the end of the note, as vibrato does, swings so often before it is more than an uneven breath.
_PASSING_SWINGS = 5.0
_TREND = 3
#: A bend is no swing: glides from so short, seconds, to the length of the window are fitted beside the sine.
_SHORTEST_GLIDE_S, _GLIDE_LENGTHS = 0.04, 10
#: The sine must leave less than this part of what the best glide leaves.
_SURER = 0.5
#: And swing at least by this part of how far the slow curve goes meanwhile.
_BESIDE_TREND = 0.2


@dataclass(frozen=True, slots=True)
class Vibrato:
    """``rate_hz`` swings a second, ``depth_cents`` to either side, over ``length_s`` from ``start_s`` on."""

    rate_hz: float
    depth_cents: float
    start_s: float
    length_s: float


def find_vibrato(time_s: Floats, cents: Floats) -> tuple[Vibrato | None, Floats]:
    """The vibrato of a pitch curve, None when there is none, and the curve without it, shape (n,).

    ``time_s`` must be evenly spaced, shape (n,), and ``cents`` known everywhere.
    """
    step_s = float(time_s[1] - time_s[0]) if len(time_s) > 1 else 1.0
    if len(time_s) * step_s < _SHORTEST_S:
        return None, cents
    size = min(len(cents), round(_WINDOW_S / step_s))
    starts = np.unique(np.append(np.arange(0, len(cents) - size, round(_HOP_S / step_s)), len(cents) - size))
    windows = np.lib.stride_tricks.sliding_window_view(cents, size)[starts]
    rates, depths, swings = _best_sines(windows, step_s)
    chain = _longest_chain(rates, swings & (depths >= _LEAST_CENTS))
    if chain is None:
        return None, cents
    first, last = int(starts[chain.start]), int(starts[chain.stop - 1]) + size
    rate_hz = _sharpened(cents[first:last], step_s, float(np.median(rates[chain])))
    length_s = (last - first) * step_s
    lasts = len(cents) - last <= size // 2
    if rate_hz * length_s < (_LEAST_SWINGS if lasts else _PASSING_SWINGS):
        return None, cents
    swing, depth = _swing(cents, first, last, step_s, size, rate_hz)
    swing_size = max(1, round(1.0 / (rate_hz * step_s)))
    swing *= _grown(cents, swing, first, swing_size)
    swing *= _grown(cents[::-1], swing[::-1], len(cents) - last, swing_size)[::-1]
    slow = _evened(cents - swing, first, last, 0.5 * swing_size)
    return Vibrato(rate_hz, depth, float(time_s[first]), length_s), slow


def _waves(size: int, step_s: float, rate_hz: float) -> Floats:
    """Cosine and sine, (size, 2), with phase 0 in the middle."""
    angle = 2.0 * np.pi * rate_hz * step_s * (np.arange(size) - 0.5 * (size - 1))
    return np.column_stack((np.cos(angle), np.sin(angle)))


def _trend(size: int, order: int) -> Floats:
    """Orthonormal columns of every polynomial up to ``order``, (size, order + 1)."""
    columns, _ = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, size), order + 1))
    return columns


def _best_sines(windows: Floats, step_s: float) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """For each window, (m, size): rate in Hz and depth in cents of the best sine, and whether it tells the motion."""
    size, count = windows.shape[1], len(windows)
    trend = _trend(size, _TREND)
    left = windows - (windows @ trend) @ trend.T
    motion = np.sum(left**2, axis=1)
    best, rates, depths = np.full(count, -1.0), np.zeros(count), np.zeros(count)
    tried_hz = np.arange(_SLOWEST_HZ, _FASTEST_HZ + 0.5 * _STEP_HZ, _STEP_HZ)
    for rate_hz in tried_hz.tolist():
        waves = _waves(size, step_s, rate_hz)
        across, along = np.linalg.qr(waves - trend @ (trend.T @ waves))
        told = left @ across
        power = np.sum(told**2, axis=1)
        better = power > best
        best[better], rates[better] = power[better], rate_hz
        depths[better] = np.hypot(*np.linalg.solve(along, told[better].T))
    # At the edge of what is looked for lies no sine but the rest of a glide.
    inside = (rates > tried_hz[0]) & (rates < tried_hz[-1])
    # Nor in what is left of a bend far wider than it.
    inside &= depths >= _BESIDE_TREND * np.ptp(windows - left, axis=1)
    swings = inside & (best >= _EXPLAINED * motion) & (motion - best < _SURER * _beside_glide(windows, step_s))
    return rates, depths, swings


def _beside_glide(windows: Floats, step_s: float) -> Floats:
    """The squares that the best single glide leaves of each window, (m, size): shape (m,)."""
    size = windows.shape[1]
    place = np.arange(size) * step_s
    left = windows - np.mean(windows, axis=1, keepdims=True)
    best = np.zeros(len(windows))
    for length_s in np.geomspace(_SHORTEST_GLIDE_S, _WINDOW_S, _GLIDE_LENGTHS).tolist():
        middles = np.arange(0.0, size * step_s, 0.1 * length_s)
        along = np.clip((place - middles[:, np.newaxis]) / length_s + 0.5, 0.0, 1.0)
        shapes = 0.5 - 0.5 * np.cos(np.pi * along)
        shapes -= np.mean(shapes, axis=1, keepdims=True)
        shapes /= np.maximum(np.linalg.norm(shapes, axis=1, keepdims=True), 1e-9)
        best = np.maximum(best, np.max((left @ shapes.T) ** 2, axis=1))
    return np.asarray(np.sum(left**2, axis=1) - best)


def _longest_chain(rates: Floats, swings: NDArray[np.bool_]) -> slice | None:
    """The longest run of windows that swing, at rates that go over into each other; None when none does."""
    best, start = slice(0, 0), 0
    for place, does in enumerate(swings.tolist()):
        if not does:
            start = place + 1
            continue
        if place > start and abs(rates[place] - rates[place - 1]) > _SAME_HZ:
            start = place
        if place + 1 - start > best.stop - best.start:
            best = slice(start, place + 1)
    return best if best.stop > best.start else None


def _sharpened(cents: Floats, step_s: float, about_hz: float) -> float:
    """The rate of the swing over all of ``cents``, Hz, near ``about_hz``."""
    size = len(cents)
    trend = _trend(size, 2 * _TREND)
    # What grows or dies away at the ends must not count like the middle.
    weight = np.sin(np.pi * (np.arange(size) + 0.5) / size)
    left = (cents - trend @ (trend.T @ cents)) * weight
    reach_hz = _SHARPENED_HZ
    for _ in range(3):
        tried_hz = np.linspace(about_hz - reach_hz, about_hz + reach_hz, 11)
        powers = []
        for rate_hz in tried_hz.tolist():
            across, _ = np.linalg.qr(_waves(size, step_s, rate_hz) * weight[:, np.newaxis])
            powers.append(float(np.sum((left @ across) ** 2)))
        about_hz = float(tried_hz[int(np.argmax(powers))])
        reach_hz *= 0.2
    return about_hz


def _swing(cents: Floats, first: int, last: int, step_s: float, size: int, rate_hz: float) -> tuple[Floats, float]:
    """The swing of all of ``cents``, of the depth and phase that windows in ``first..last`` tell; and its depth.

    Each point is told by the window about it, those before and after by the first and the last window there is.
    """
    both = np.column_stack((_trend(size, _TREND), _waves(size, step_s, rate_hz)))
    windows = np.lib.stride_tricks.sliding_window_view(cents[first:last], size)
    cosines, sines = np.linalg.pinv(both)[-2:] @ windows.T
    at = np.arange(len(cents)) - first
    middle = np.clip(at - (size - 1) // 2, 0, len(windows) - 1)
    angle = 2.0 * np.pi * rate_hz * step_s * (at - middle - 0.5 * (size - 1))
    swing = cosines[middle] * np.cos(angle) + sines[middle] * np.sin(angle)
    # Where it grows and dies away it is less deep than it is.
    return swing, float(np.percentile(np.hypot(cosines, sines), 80.0))


def _grown(cents: Floats, swing: Floats, first: int, swing_size: int) -> Floats:
    """How much of ``swing`` is there at each point, 0..1: it begins somewhere about ``first`` and grows.

    Of several beginnings it is the one that leaves the least way to go up and down.
    """
    near = np.arange(max(0, first - 2 * swing_size), min(len(cents), first + 3 * swing_size))
    begun, grown, least = float(first), 0.1, np.inf
    for begin in np.linspace(first - 1.5 * swing_size, first + 1.5 * swing_size, 25).tolist():
        for grows in (0.1, 0.5, 1.0, 1.5):
            left = cents[near] - _rising(near, begin, grows * swing_size) * swing[near]
            way = float(np.sum(np.abs(np.diff(left))))
            if way < least:
                begun, grown, least = begin, grows, way
    return _rising(np.arange(len(cents)), begun, grown * swing_size)


def _rising(place: NDArray[np.int64], begin: float, length: float) -> Floats:
    """0 up to ``begin``, 1 from ``length`` after it on, and a raised cosine between them."""
    return np.asarray(np.sin(0.5 * np.pi * np.clip((place - begin) / length, 0.0, 1.0)) ** 2)


def _evened(slow: Floats, first: int, last: int, half_swing: float) -> Floats:
    """The slow curve with a swing's length of it averaged well inside ``first..last``: what was left of a swing.

    Vibrato that grows or dies away is not all told by sines of one depth. Its edges stay, since a bend may end there.
    """
    half = max(1, round(half_swing))
    if last - first <= 2 * half:
        return slow
    weights = np.ones(2 * half + 1)
    weights[[0, -1]] = 0.5
    evened = slow.copy()
    evened[first + half : last - half] = np.convolve(slow[first:last], weights / (2.0 * half), mode="valid")
    return evened
