"""Samples made ready for pitch: rumble and hum below the instrument taken out, hiss above it softened.

The two second-order Butterworth sections (bilinear transform, as in any textbook of digital signal processing) are
written as one state-space system and stepped a whole hop at a time: ``y = observe @ state + respond @ x``. That is
exactly the sample-by-sample recursion, without a loop over samples.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def butterworth(kind: Literal["low", "high"], corner_hz: float, rate: int) -> tuple[Array, Array]:
    """Numerator and denominator (3,) of a second-order Butterworth section; corner in Hz, below half the rate."""
    k = math.tan(math.pi * corner_hz / rate)
    norm = 1.0 + math.sqrt(2.0) * k + k * k
    denominator = np.array([1.0, 2.0 * (k * k - 1.0) / norm, (1.0 - math.sqrt(2.0) * k + k * k) / norm])
    if kind == "low":
        return np.array([k * k, 2.0 * k * k, k * k]) / norm, denominator
    return np.array([1.0, -2.0, 1.0]) / norm, denominator


class Conditioner:
    """A high-pass and a low-pass in one, stepped hop by hop; keeps its state from call to call."""

    def __init__(self, rate: int, hop: int, *, high_pass_hz: float, low_pass_hz: float) -> None:
        low = min(low_pass_hz, 0.45 * rate)
        numerator, denominator = _cascade(butterworth("high", high_pass_hz, rate), butterworth("low", low, rate))
        order = len(denominator) - 1
        advance = np.vstack([-denominator[1:], np.eye(order - 1, order)])
        enter = np.eye(order)[:, 0]
        read = numerator[1:] - denominator[1:] * numerator[0]
        powers = [np.eye(order)]
        for _ in range(hop):
            powers.append(advance @ powers[-1])
        impulse = np.array([numerator[0], *(read @ power @ enter for power in powers[: hop - 1])])
        self._observe = np.array([read @ power for power in powers[:hop]]).T
        respond = np.array([[impulse[i - j] if i >= j else 0.0 for j in range(hop)] for i in range(hop)])
        load = np.array([powers[hop - 1 - j] @ enter for j in range(hop)])
        # What a hop adds to its own output, and to the state after it.
        self._enter = np.hstack([respond.T, load])
        self._advance = powers[hop]
        self._state = np.zeros(order)

    def step(self, hops: Array) -> Array:
        """Filter ``hops`` of shape (count, hop), in stream order; the result has the same shape."""
        entered = hops @ self._enter
        own, loads = entered[:, : hops.shape[1]], entered[:, hops.shape[1] :]
        # All states at once: each reaches on over 1 hop, then 2, 4 and so on, until it has reached every later one.
        states = np.vstack([self._state, loads])
        reach, advance = 1, self._advance.T
        while reach < len(states):
            states[reach:] += states[:-reach] @ advance
            reach, advance = 2 * reach, advance @ advance
        self._state = states[-1]
        return np.asarray(own + states[:-1] @ self._observe)


def _cascade(*sections: tuple[Array, Array]) -> tuple[Array, Array]:
    """Numerator and denominator of sections one after the other."""
    numerator = denominator = np.ones(1)
    for top, bottom in sections:
        numerator, denominator = np.convolve(numerator, top), np.convolve(denominator, bottom)
    return numerator, denominator
