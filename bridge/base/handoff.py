"""The bounded hand-off from one process to another that never makes its producer wait and says what it lost.

A ring of fixed-size slots in shared memory, one producer and one consumer, all of it allocated before the first
record. When the consumer is too slow the *new* record is dropped and counted; both sides see the count. The memory is
an unnamed mapping inherited through ``multiprocessing``'s spawn: the system frees it when the last of the two
processes is gone, however it went, so neither an exit nor a kill leaves anything behind.
"""

from __future__ import annotations

import threading
from ctypes import Array, c_char
from multiprocessing import get_context
from typing import TYPE_CHECKING, TypeAlias

from bridge.base.errors import UserError

if TYPE_CHECKING:
    from collections.abc import Iterator

#: What can be pushed: anything whose memory lies in one piece, such as bytes or a contiguous array's ``data``.
Piece: TypeAlias = bytes | bytearray | memoryview

_WRITTEN, _READ, _LOST, _ENDED = range(4)
_HEADER_BYTES = 64
_LENGTH_BYTES = 8


class HandOff:
    """A ring of ``capacity`` records of at most ``record_bytes`` bytes each.

    Hand the object itself to ``multiprocessing.get_context("spawn").Process`` as an argument: both sides then see the
    same ring. Only one thread of one process may push, only one thread of one process may pop. Raises ValueError when
    a size is not above 0, UserError when the system shares no memory.
    """

    def __init__(self, record_bytes: int, capacity: int) -> None:
        if record_bytes <= 0 or capacity <= 0:
            message = f"record_bytes and capacity must be above 0, not {record_bytes} and {capacity}"
            raise ValueError(message)
        self.record_bytes = record_bytes
        self.capacity = capacity
        self._slot_bytes = _LENGTH_BYTES + -(-record_bytes // 8) * 8
        try:
            memory = get_context("spawn").RawArray(c_char, _HEADER_BYTES + capacity * self._slot_bytes)
        except OSError as error:
            raise UserError(
                f"There is no memory that two processes can share ({error.strerror}). Check that the folder /dev/shm "
                "may be written and has room."
            ) from error
        self._attach(memory)

    def _attach(self, memory: Array[c_char]) -> None:
        """Lay the views over the shared memory: the counters, and the slots."""
        self._memory = memory
        view = memoryview(memory).cast("B")
        self._counters = view[:_HEADER_BYTES].cast("q")
        self._slots = view[_HEADER_BYTES:]
        # Taking a lock nobody else has orders the writes before it against those after it, on every processor.
        self._fence = threading.Lock()

    def __getstate__(self) -> tuple[int, int, int, Array[c_char]]:
        """What travels to the other process: the sizes and the memory, which only a spawn can hand on."""
        return self.record_bytes, self.capacity, self._slot_bytes, self._memory

    def __setstate__(self, state: tuple[int, int, int, Array[c_char]]) -> None:
        self.record_bytes, self.capacity, self._slot_bytes, memory = state
        self._attach(memory)

    def push(self, *pieces: Piece) -> bool:
        """Hand on one record, the ``pieces`` one after the other; False when there was no room and it is lost.

        Never waits. Raises ValueError when the pieces are longer than ``record_bytes`` together.
        """
        counters = self._counters
        written = counters[_WRITTEN]
        length = sum(map(_size, pieces))
        if length > self.record_bytes:
            message = f"a record of {length} bytes is longer than {self.record_bytes}"
            raise ValueError(message)
        if written - counters[_READ] >= self.capacity:
            counters[_LOST] += 1
            return False
        start = written % self.capacity * self._slot_bytes
        slots = self._slots
        slots[start : start + _LENGTH_BYTES] = length.to_bytes(_LENGTH_BYTES, "little")
        start += _LENGTH_BYTES
        for piece in pieces:
            end = start + _size(piece)
            slots[start:end] = piece if isinstance(piece, bytes | bytearray) else piece.cast("B")
            start = end
        with self._fence:
            counters[_WRITTEN] = written + 1
        return True

    def pop(self) -> bytes | None:
        """The oldest record not yet read, or None when there is nothing at the moment. Never waits."""
        counters = self._counters
        read = counters[_READ]
        with self._fence:
            if counters[_WRITTEN] == read:
                return None
        start = read % self.capacity * self._slot_bytes
        length = int.from_bytes(self._slots[start : start + _LENGTH_BYTES], "little")
        start += _LENGTH_BYTES
        record = bytes(self._slots[start : start + length])
        with self._fence:
            counters[_READ] = read + 1
        return record

    def drain(self) -> Iterator[bytes]:
        """The records that are there now, oldest first; what comes meanwhile waits for the next call."""
        for _ in range(self.waiting):
            record = self.pop()
            if record is None:
                return
            yield record

    def end(self) -> None:
        """Called by the producer: nothing more will come."""
        with self._fence:
            self._counters[_ENDED] = 1

    @property
    def ended(self) -> bool:
        """Whether the producer has said that nothing more will come and all of it has been read."""
        return bool(self._counters[_ENDED]) and self.waiting == 0

    @property
    def waiting(self) -> int:
        """Number of records written and not yet read."""
        return self._counters[_WRITTEN] - self._counters[_READ]

    @property
    def lost(self) -> int:
        """Number of records dropped so far because the consumer was too slow; the same on both sides."""
        return self._counters[_LOST]


def _size(piece: Piece) -> int:
    """Bytes of one piece."""
    return piece.nbytes if isinstance(piece, memoryview) else len(piece)
