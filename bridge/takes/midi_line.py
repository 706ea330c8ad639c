"""One value of a note as it moves through a MIDI file: in memory while the note sounds, then on the disk.

An hour has a million values.
"""

from __future__ import annotations

import weakref
from array import array
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from bridge.base.errors import UserError
from bridge.base.spool import Spool
from bridge.takes.curves import Array, TimesAndValues

#: A leap takes no longer than this, s.
LEAP_S = 1e-4
_NUMBER_BYTES = 8
#: About a note.
_PIECE_BYTES = 1 << 12


class Line:
    """Values at rising times, as pairs of seconds and value. No value at all is false."""

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

    def data(self) -> bytes:
        """All times and then all values, eight bytes each."""
        return self._times.tobytes() + self._values.tobytes()

    def __iter__(self) -> Iterator[tuple[float, float]]:
        return zip(self._times, self._values, strict=True)

    def __len__(self) -> int:
        return len(self._times)


class LineStore:
    """Lines in a spool, which is closed with the last who holds one of them."""

    def __init__(self) -> None:
        self._spool = Spool(None, _PIECE_BYTES)
        self._bytes = 0
        weakref.finalize(self, self._spool.close)

    def keep(self, line: Line) -> KeptLine:
        """Put a line there to which nothing comes any more."""
        if not line:
            return NO_LINE
        data, place = line.data(), self._bytes
        self._spool.append(data)
        self._bytes += len(data)
        return KeptLine(self, place, len(line))

    def numbers(self, place: int, count: int) -> Array:
        """So many numbers from a place on, shape (count,). Raises UserError when the disk does not give them back."""
        try:
            data = self._spool.read(place, _NUMBER_BYTES * count)
        except OSError as error:
            raise UserError(
                f"Nothing was taken back from the MIDI file: {error.strerror}. Name another folder in TMPDIR."
            ) from error
        return np.frombuffer(data, np.float64)


@dataclass(frozen=True, slots=True)
class KeptLine:
    """A line in a store, read from there whenever it is looked at, as pairs or arrays. No value at all is false."""

    store: LineStore | None = None
    place: int = 0
    count: int = 0

    def arrays(self) -> TimesAndValues:
        """The times and the values, both of shape (n,)."""
        numbers = np.empty(0) if self.store is None else self.store.numbers(self.place, 2 * self.count)
        return numbers[: self.count], numbers[self.count :]

    def __iter__(self) -> Iterator[tuple[float, float]]:
        times, values = self.arrays()
        return zip(times.tolist(), values.tolist(), strict=True)

    def __len__(self) -> int:
        return self.count


NO_LINE = KeptLine()
