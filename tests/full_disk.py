"""A disk that is full, and how many files a process has open."""

from __future__ import annotations

import resource
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def full_disk(most_bytes: int) -> Iterator[None]:
    """The system's limit on the size of files stands for it: no file of this process gets longer than this."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def open_files() -> int:
    """How many this process has."""
    return len(list(Path("/proc/self/fd").iterdir()))
