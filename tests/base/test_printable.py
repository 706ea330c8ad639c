"""Names from the system as text that can be written anywhere."""

from __future__ import annotations

import os
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from bridge.base.printable import printable


@given(st.binary(max_size=20).filter(lambda name: b"\0" not in name))
def test_any_name_becomes_utf_8_and_good_ones_stay(name: bytes) -> None:
    """Whatever bytes a file system holds (PEP 383) can be encoded afterwards; letters are kept as they are."""
    text = printable(os.fsdecode(name))
    assert text.encode("utf-8").decode("utf-8") == text
    try:
        assert name.decode("utf-8") == text
    except UnicodeDecodeError:
        assert "\ufffd" in text


def test_a_path_is_a_name_too() -> None:
    """A path is taken like its name."""
    assert printable(Path("lick.wav")) == "lick.wav"
