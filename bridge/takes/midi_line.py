"""One value of a note as it moves through a MIDI file."""

from __future__ import annotations

from array import array
from collections.abc import Iterator

#: A leap takes no longer than this, s.
LEAP_S = 1e-4


class Line:
    """Values at rising times, as pairs of seconds and value; in memory sixteen bytes each, since an hour has a million.

    No value at all is false.
    """

    __slots__ = ("_times", "_values")

    def __init__(self) -> None:
        self._times, self._values = array("d"), array("d")

    def put(self, at_s: float, value: float) -> None:
        """Append a value; of two at one time, a leap, the first is moved a moment before."""
        if self._times and self._times[-1] >= at_s:
            self._times.pop()
            if self._times and self._times[-1] < at_s - LEAP_S:
                self._times.append(at_s - LEAP_S)
            else:
                self._values.pop()
        self._times.append(at_s)
        self._values.append(value)

    def __iter__(self) -> Iterator[tuple[float, float]]:
        return zip(self._times, self._values, strict=True)

    def __len__(self) -> int:
        return len(self._times)
