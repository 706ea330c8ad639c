"""Signs that a sound file was cut short which its decoder passes over in silence."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

_NO_LENGTH = 0xFFFFFFFF
_LONGEST_PAGE = 65307
_PAGE_HEAD = 27


def ends_within_a_page(path: Path) -> bool:
    """Whether an Ogg file stops in the middle of a page.

    Source: RFC 3533, section 6: a page is 27 bytes, the number of segments in the last of them, as many lengths of a
    byte each, and the segments.
    """
    with path.open("rb") as file:
        if file.read(4) != b"OggS":
            return False
        file.seek(max(0, path.stat().st_size - _LONGEST_PAGE))
        end = file.read()
    page = end[end.rfind(b"OggS") :]
    if len(page) < _PAGE_HEAD:
        return True
    lengths = page[_PAGE_HEAD : _PAGE_HEAD + page[_PAGE_HEAD - 1]]
    return len(page) < _PAGE_HEAD + page[_PAGE_HEAD - 1] + sum(lengths)


def share_there(path: Path) -> float:
    """How much of its sample data a WAV or AIFF file holds, 0..1: its header promises more when it was cut short.

    Source: chunks of a name, a length of 4 bytes and data padded to even length (Multimedia Programming Interface and
    Data Specifications 1.0, 1991; Audio Interchange File Format 1.3, 1989).
    """
    size = path.stat().st_size
    with path.open("rb") as file:
        order = {b"RIFF": "<", b"FORM": ">"}.get(file.read(4))
        if order is None:
            return 1.0
        file.seek(12)
        for name, length in _chunks(file, order):
            if name in (b"data", b"SSND") and 0 < length != _NO_LENGTH:
                return min(1.0, (size - file.tell()) / length)
    return 1.0


def _chunks(file: BinaryIO, order: str) -> Iterator[tuple[bytes, int]]:
    """Names and lengths of the chunks, with the file at the data of each."""
    while len(head := file.read(8)) == 8:
        name, length = struct.unpack(order + "4sI", head)
        after = file.tell() + length + length % 2
        yield name, length
        file.seek(after)
