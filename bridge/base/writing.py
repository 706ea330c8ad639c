"""Writing a file so that a crash leaves either the old one or the new one, never half of it."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

_Done = TypeVar("_Done")

#: What the system says of a disk, or of somebody's part of it, that is full.
_FULL = (errno.ENOSPC, errno.EDQUOT)


def write_safely(path: Path, content: str | bytes) -> None:
    """Write ``content`` (text as UTF-8, line ends as given) by temporary file, fsync and replace.

    Raises OSError when the folder cannot be written; the file that was there before is then untouched.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    with written_safely(path) as temporary:
        temporary.write_bytes(data)


@contextmanager
def written_safely(path: Path) -> Iterator[Path]:
    """Give an empty file to write what shall be at ``path``; when all went well it takes that place, else it goes.

    Raises OSError when the folder cannot be written; the file that was there before is then untouched.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    temporary = Path(name)
    try:
        try:
            os.fchmod(handle, 0o666 & ~_umask())
            yield temporary
            os.fsync(handle)
        finally:
            os.close(handle)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def write_making_room(path: Path, write: Callable[[Path], None], make_room: Callable[[], None]) -> None:
    """Let ``write`` write what shall be at ``path``; on a disk that is full once more, after ``make_room``.

    Raises OSError when the folder cannot be written; the file that was there before is then untouched.
    """

    def written() -> None:
        with written_safely(path) as temporary:
            write(temporary)

    making_room(written, make_room)


def making_room(act: Callable[[], _Done], make_room: Callable[[], None]) -> _Done:
    """What comes of ``act``; on a disk that is full it is done once more, after ``make_room``. Raises what it does."""
    try:
        return act()
    except OSError as error:
        if error.errno not in _FULL:
            raise
        make_room()
        return act()


def _umask() -> int:
    """The process's umask, which can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
