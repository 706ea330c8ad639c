"""A file that only grows, so that a crash costs nothing that was appended."""

from __future__ import annotations

import os
from pathlib import Path

from bridge.base.errors import ClosedError


class AppendFile:
    """Appends bytes with one unbuffered write each; refuses to open a file that exists.

    What :meth:`append` has taken survives the end of the process, however it comes. Raises FileExistsError or another
    OSError when the file cannot be made.
    """

    def __init__(self, path: Path) -> None:
        self._file: int | None = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_EXCL, 0o666)

    def append(self, data: bytes) -> None:
        """Append; raises ClosedError when closed and OSError when the disk takes no more."""
        if self._file is None:
            raise ClosedError("This file of the take is closed.")
        while data:
            data = data[os.write(self._file, data) :]

    def close(self) -> None:
        """Close; closing again does nothing."""
        if self._file is not None:
            file, self._file = self._file, None
            try:
                os.fsync(file)
            finally:
                os.close(file)
