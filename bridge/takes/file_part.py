"""The bytes of an open file between two places, read a little at a time beside other readers of the same file."""

from __future__ import annotations

import io
import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from _typeshed import WriteableBuffer

#: So many bytes of a part are in memory at most: a file may have thousands of parts that are read side by side.
BUFFER_BYTES = 4096


class _Part(io.RawIOBase):
    """The bytes from ``begin`` up to ``end``; its position counts from ``begin``."""

    def __init__(self, file: int, begin: int, end: int) -> None:
        self._file, self._begin, self._at, self._end = file, begin, begin, end

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: WriteableBuffer) -> int:
        room = memoryview(buffer)
        # With a place of its own for each read: the position of the file is shared.
        data = os.pread(self._file, min(len(room), self._end - self._at), self._at)
        room[: len(data)] = data
        self._at += len(data)
        return len(data)

    def tell(self) -> int:
        return self._at - self._begin


def file_part(file: int, begin: int, end: int) -> io.BufferedReader:
    """A reader of the bytes from ``begin`` up to ``end`` of the open file with that number, which it leaves open."""
    return io.BufferedReader(_Part(file, begin, end), max(1, min(BUFFER_BYTES, end - begin)))
