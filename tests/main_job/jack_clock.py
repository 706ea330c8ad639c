"""The clock of a sound server against the sound that a player sends through it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

_WRAPS = 2**32


class JackClock:
    """JACK frames as seconds since the sound began, and where in the sound they lie.

    ``placed`` are what ``jack_player`` says by that name: how many samples had been sent at a frame. Between two of
    them both run alike. Raises ValueError when nothing was sent.
    """

    def __init__(self, placed: Iterable[Mapping[str, Any]], rate: int) -> None:
        said = [(int(line["place"]), int(line["at"])) for line in placed]
        if not said:
            raise ValueError("no sound was sent")
        self._rate = rate
        self._first = said[0][1]
        self._places = np.array([place for place, _ in said])
        # The counter has 32 bits.
        self._frames = np.array([(at - self._first) % _WRAPS for _, at in said])

    def seconds(self, at: int) -> float:
        """Seconds from the beginning of the sound to a frame; below 0 before it."""
        return ((at - self._first + _WRAPS // 2) % _WRAPS - _WRAPS // 2) / self._rate

    def seconds_of(self, sound_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """The same for places in the sound, in seconds of it, shape (n,)."""
        samples = sound_s * self._rate
        near = np.maximum(np.searchsorted(self._places, samples, side="right") - 1, 0)
        return np.asarray((self._frames[near] + samples - self._places[near]) / self._rate, np.float64)

    def sound_s(self, at: int) -> float:
        """The place in the sound, in seconds of it, that goes out at a frame."""
        frame = self.seconds(at) * self._rate
        near = max(int(np.searchsorted(self._frames, frame, side="right")) - 1, 0)
        return float(self._places[near] + frame - self._frames[near]) / self._rate
