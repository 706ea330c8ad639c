"""Writing a file so that a crash leaves either the old one or the new one, never half of it."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

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
    try:
        _write(path, write)
    except OSError as error:
        if error.errno not in _FULL:
            raise
        make_room()
        _write(path, write)


def _write(path: Path, write: Callable[[Path], None]) -> None:
    with written_safely(path) as temporary:
        write(temporary)


def _umask() -> int:
    """The process's umask, which can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
