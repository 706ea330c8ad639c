"""The folder of a take held by whoever writes it, so that nobody makes it whole, or edits it, before it is.

The hold is a lock of the system on the folder (``flock``): it ends with the process, however that comes.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from bridge.takes.folder import TakeFolder


@contextmanager
def held(folder: TakeFolder) -> Iterator[None]:
    """Hold the folder, which is there; a file system without locks does without. Raises OSError if it is not there."""
    handle = os.open(folder.path, os.O_RDONLY)
    try:
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    finally:
        os.close(handle)


def is_held(folder: TakeFolder) -> bool:
    """Whether somebody is writing the take; False where that cannot be known."""
    try:
        handle = os.open(folder.path, os.O_RDONLY)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False
