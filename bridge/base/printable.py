"""Names from the system as text that can be written anywhere."""

from __future__ import annotations

import os


def printable(name: str | os.PathLike[str]) -> str:
    """``name`` with a replacement character for each byte that is no UTF-8.

    A file system knows bytes, not letters; Python keeps the odd ones as lone surrogates (PEP 383), which no text file
    takes.
    """
    return os.fsencode(name).decode("utf-8", "replace")
