"""A reader of OSC messages for tests, written from the standard and not from the library we send with.

Source: OpenSound Control Specification 1.0: OSC-string (zero-ended, padded to four bytes), type tag string after a
comma, int32 and float32 big-endian.
"""

from __future__ import annotations

import struct

FORBIDDEN_IN_ADDRESS = set(" #*,?[]{}")


def read(datagram: bytes) -> tuple[str, str, list[int | float | str]]:
    """Address, type tags without the comma, and arguments; AssertionError for anything the standard does not allow."""
    assert len(datagram) % 4 == 0
    address, rest = _string(datagram)
    assert address.startswith("/")
    assert not FORBIDDEN_IN_ADDRESS & set(address)
    tags, rest = _string(rest)
    assert tags.startswith(",")
    arguments: list[int | float | str] = []
    for tag in tags[1:]:
        if tag == "s":
            text, rest = _string(rest)
            arguments.append(text)
        else:
            assert tag in "if"
            arguments.append(struct.unpack(f">{tag}", rest[:4])[0])
            rest = rest[4:]
    assert rest == b""
    return address, tags[1:], arguments


def _string(data: bytes) -> tuple[str, bytes]:
    end = data.index(0)
    padded = end + 4 - end % 4
    assert set(data[end:padded]) == {0}
    return data[:end].decode("utf-8"), data[padded:]
