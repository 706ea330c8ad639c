"""How alike the sound is to itself some samples ago: the normalised square difference function (NSDF).

``nsdf(lag) = 2 * sum(x[t] * x[t - lag]) / sum(x[t]**2 + x[t - lag]**2)``, summed over the newest samples only: 1 for a
sound that repeats exactly after ``lag`` samples (McLeod & Wyvill, ICMC 2005). The sums are kept hop by hop, so each
lag can have a window of its own length at no cost: long lags look back longer than short ones.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_TINY = 1e-14


class LagHistory:
    """The newest samples, and the NSDF of every lag at every hop.

    A lag looks at the newest ``lag * window_lags`` samples (in whole hops, at least ``shortest_hops``) against as many
    ``lag`` samples earlier.
    """

    def __init__(self, *, hop: int, longest_lag: int, window_lags: float, shortest_hops: int, keep: int) -> None:
        self.hop = hop
        self.longest_lag = longest_lag
        lags = np.arange(longest_lag + 1)
        window_hops = np.maximum(shortest_hops, np.ceil(window_lags * lags / hop).astype(np.intp))
        self._most_hops = int(window_hops.max())
        self._kept = max(keep, longest_lag + (self._most_hops + 1) * hop)
        # Where each lag's window begins, as places in the arrays that ``append`` lays out: running sums of products
        # by hop and lag, and running sums of squares by sample, both seen from the end of the first new hop.
        self._first_sums = (self._most_hops + 1 - window_hops) * len(lags) + lags
        windows = window_hops * hop
        first_end = self._kept + hop
        self._first_energies = np.stack([first_end - windows, first_end - lags, first_end - lags - windows])
        self._place(1)
        self._least = _TINY * windows
        self.samples: Array = np.zeros(self._kept)
        self.energy: Array = np.zeros(self._kept + 1)
        self.ends: NDArray[np.intp] = np.zeros(0, np.intp)
        self._products = np.zeros((self._most_hops, self.longest_lag + 1))

    def append(self, hops: Array) -> Array:
        """Take ``hops`` of shape (count, hop); return the NSDF of shape (count, longest_lag + 1).

        Afterwards ``samples`` holds these hops behind the newest older ones, ``ends[i]`` is the index in it just past
        hop ``i``, and ``energy[i]`` the sum of squares of ``samples[:i]``.
        """
        count, hop = hops.shape
        new = hops.ravel()
        self.samples = np.concatenate([self.samples[-self._kept :], new])
        # Counted from the oldest sample kept, so that the sum never grows and no precision is lost over hours.
        before = self.energy[-self._kept - 1 :]
        before = before - before[0]
        self.energy = np.concatenate([before, before[-1] + np.cumsum(new * new)])
        self.ends = self._kept + hop * np.arange(1, count + 1)
        products = np.empty((count, self.longest_lag + 1))
        for index, end in enumerate(self.ends.tolist()):
            past = self.samples[end - hop - self.longest_lag : end]
            products[index] = np.correlate(past, self.samples[end - hop : end], "valid")[::-1]
        return self._normalise(products)

    def _place(self, count: int) -> None:
        """Find the same places seen from each of ``count`` new hops, kept as long as that many come."""
        later = np.arange(count)[:, None]
        self._sums_places = self._first_sums + later * len(self._first_sums)
        self._energy_places = self._first_energies[:, None, :] + later * self.hop

    def _normalise(self, products: Array) -> Array:
        """NSDF of the new hops from their lag products."""
        count, width = products.shape
        sums = np.empty((self._most_hops + 1 + count, width))
        sums[0] = 0.0
        sums[1 : self._most_hops + 1] = self._products
        sums[self._most_hops + 1 :] = products
        self._products = sums[count + 1 :].copy()
        np.cumsum(sums, axis=0, out=sums)
        if count != len(self._sums_places):
            self._place(count)
        cross = sums[self._most_hops + 1 :] - sums.take(self._sums_places)
        begin, end_old, begin_old = self.energy.take(self._energy_places)
        total = self.energy.take(self.ends)[:, None] - begin + end_old - begin_old
        return np.asarray(2.0 * cross / (total + self._least))


class Refiner:
    """Finds a repetition between the sample points: band-limited interpolation of the NSDF around a lag."""

    REACH = 8
    _SEARCH = 3
    _STEP = 0.25

    def __init__(self) -> None:
        offsets = np.arange(-1.0, 1.0 + self._STEP / 2, self._STEP)
        points = np.arange(-self.REACH, self.REACH + 1)
        distance = offsets[:, None] - points[None, :]
        # Kaiser window, beta 12: near its top the likeness is flat, so already a ripple of 1e-5 would shift it.
        inside = np.clip(1.0 - (distance / (self.REACH + 1)) ** 2, 0.0, None)
        self._between = np.sinc(distance) * np.i0(12.0 * np.sqrt(inside)) / np.i0(12.0)
        self._between /= self._between.sum(axis=1, keepdims=True)
        self._offsets: list[float] = offsets.tolist()

    def refine(self, history: LagHistory, end: int, lag: float, window: int) -> tuple[float, float]:
        """The lag (in samples, fractional) of the best likeness near ``lag``, and that likeness (NSDF, <= about 1).

        Compares the ``window`` samples before ``end`` with those about ``lag`` samples earlier. ``lag`` must be known
        to within 3 samples.
        """
        margin = self.REACH + self._SEARCH
        centre = round(lag)
        first = max(1, centre - margin)
        last = centre + margin
        samples, energy = history.samples, history.energy
        start = end - window
        cross = np.correlate(samples[start - last : end - first], samples[start:end], "valid")
        total = energy[end - last : end - first + 1] - energy[start - last : start - first + 1]
        total += energy[end] - energy[start] + _TINY * window
        cross *= 2.0
        cross /= total
        likeness = cross[::-1]
        low = max(0, centre - first - self._SEARCH)
        peak, height = _top(likeness[low : centre - first + self._SEARCH + 1].tolist())
        peak += low
        if peak < self.REACH or peak + self.REACH >= len(likeness):
            return float(first + peak), height
        dense: list[float] = (self._between @ likeness[peak - self.REACH : peak + self.REACH + 1]).tolist()
        best, value = _top(dense)
        offset = self._offsets[best]
        if 0 < best < len(dense) - 1:
            left, right = dense[best - 1], dense[best + 1]
            curve = left - 2.0 * value + right
            if curve < 0.0:
                shift = 0.5 * (left - right) / curve
                offset += shift * self._STEP
                value -= 0.25 * (left - right) * shift
        return first + peak + offset, value


def _top(values: list[float]) -> tuple[int, float]:
    """Place and value of the greatest of a few numbers."""
    value = max(values)
    return values.index(value), value


def parabola(left: float, middle: float, right: float) -> tuple[float, float]:
    """Offset from the middle (-1..1) and height of the top of the parabola through three equidistant points.

    Points with no top between them give the middle one.
    """
    curve = left - 2.0 * middle + right
    shift = 0.5 * (left - right) / curve if curve < 0.0 else math.inf
    if not abs(shift) <= 1.0:
        return 0.0, middle
    return shift, middle - 0.25 * (left - right) * shift
