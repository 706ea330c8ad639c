"""Bytes that are gathered for later and lie on the disk meanwhile, so that memory does not grow with them."""

from __future__ import annotations

import errno
import io
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

from bridge.base.errors import ClosedError


class Spool:
    """Takes bytes in order and gives all of them back, as often as is asked; a context manager that closes when left.

    They lie in a file without a name in ``folder`` (None: where the system has its temporary files), which goes by
    itself however the process ends, in pieces of ``piece_bytes``; only the last piece is in memory. What the disk
    refuses stays in memory and is tried again with each piece that comes after it: a disk that is full costs nothing
    that was appended. Short of one piece no file is made. Nothing is synced, for what has to outlive the machine is
    kept elsewhere.
    """

    def __init__(self, folder: Path | None, piece_bytes: int = 1 << 16) -> None:
        self._folder, self._piece_bytes = folder, piece_bytes
        self._file: io.FileIO | None = None
        self._on_disk = 0
        self._waiting = bytearray()
        self._try_at = piece_bytes
        self._is_open = True

    def append(self, data: bytes) -> None:
        """Append; raises ClosedError when closed, and nothing else, whatever the disk does."""
        self._check_open()
        self._waiting += data
        if len(self._waiting) >= self._try_at:
            self._set_aside()

    def pieces(self) -> Iterator[bytes]:
        """All that has been appended by now, in pieces of ``piece_bytes``, the last one as long as is left.

        More may be appended meanwhile. Raises OSError that says so when the disk does not give back what it took, and
        ClosedError when closed, also half way.
        """
        self._check_open()
        end = self._on_disk + len(self._waiting)
        for start in range(0, end, self._piece_bytes):
            yield self._read(start, min(self._piece_bytes, end - start))

    def read(self, start: int, length: int) -> bytes:
        """So many bytes of what has been appended, from the one numbered ``start`` on; raises like :meth:`pieces`."""
        on_disk = max(0, min(length, self._on_disk - start))
        return self._read(start, on_disk) + self._read(start + on_disk, length - on_disk)

    def copy_to(self, path: Path) -> None:
        """Write all of it to ``path``; raises OSError when that cannot be written, or this not read."""
        with path.open("wb") as out:
            out.writelines(self.pieces())

    def take_back(self) -> None:
        """Hold all of it in memory, so that the disk has room for something else; raises like :meth:`pieces`."""
        self._waiting = bytearray(b"".join(self.pieces()))
        self._on_disk, self._try_at = 0, len(self._waiting) + self._piece_bytes
        if self._file is not None:
            self._file.close()
            self._file = None

    def close(self) -> None:
        """Forget everything; closing again does nothing."""
        self._is_open = False
        self._waiting.clear()
        if self._file is not None:
            self._file.close()

    def _check_open(self) -> None:
        if not self._is_open:
            raise ClosedError("What was gathered here has been given up.")

    def _set_aside(self) -> None:
        """Hand whole pieces to the disk as long as it takes them."""
        try:
            while len(self._waiting) >= self._piece_bytes and self._takes(bytes(self._waiting[: self._piece_bytes])):
                del self._waiting[: self._piece_bytes]
                self._on_disk += self._piece_bytes
        except OSError:
            # It is no loss as long as it is in memory, and whoever writes what counts tells of the disk.
            pass
        self._try_at = (len(self._waiting) // self._piece_bytes + 1) * self._piece_bytes

    def _takes(self, piece: bytes) -> bool:
        """Whether the disk takes all of a piece; of one that it takes in part, all is written again later."""
        if self._file is None:
            self._file = tempfile.TemporaryFile(  # noqa: SIM115 -- closed by close()
                buffering=0, prefix=".spool-", dir=self._folder
            )
        return os.pwrite(self._file.fileno(), piece, self._on_disk) == len(piece)

    def _read(self, start: int, length: int) -> bytes:
        self._check_open()
        if self._file is None or start >= self._on_disk:
            return bytes(self._waiting[start - self._on_disk : start - self._on_disk + length])
        try:
            data = os.pread(self._file.fileno(), length, start)
        except OSError as error:
            raise self._unreadable(error) from error
        if len(data) < length:
            raise self._unreadable(OSError(errno.EIO, os.strerror(errno.EIO)))
        return data

    def _unreadable(self, error: OSError) -> OSError:
        where = self._folder or "a temporary folder"
        return OSError(error.errno, f"what was set aside in {where} cannot be read back: {error.strerror}")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
