"""Writing safely: the old file or the new one, never half of it."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from bridge.base.writing import write_safely


def test_text_and_bytes_arrive_as_they_are(tmp_path: Path) -> None:
    """Text is UTF-8 with its own line ends, bytes are bytes, and an older file is replaced."""
    file = tmp_path / "a.txt"
    write_safely(file, "Ünder\nline\r\n")
    assert file.read_bytes() == "Ünder\nline\r\n".encode()
    write_safely(file, b"\x00\x01")
    assert file.read_bytes() == b"\x00\x01"
    assert [item.name for item in tmp_path.iterdir()] == ["a.txt"]


def test_a_write_that_fails_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk refuses, the file of before is whole and nothing else lies about."""
    file = tmp_path / "a.txt"
    file.write_text("old", encoding="utf-8")

    def refuse(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="No space left"):
        write_safely(file, "new")
    assert file.read_text(encoding="utf-8") == "old"
    assert [item.name for item in tmp_path.iterdir()] == ["a.txt"]


def test_the_file_has_the_rights_that_the_user_wants(tmp_path: Path) -> None:
    """A file is as readable as the user's umask says, not hidden as temporary files are."""
    before = os.umask(0o027)
    try:
        write_safely(tmp_path / "a.txt", "x")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == 0o640
