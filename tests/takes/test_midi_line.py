"""Lines of values: while they grow, and when nothing comes to them any more."""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.takes.midi_line import KeptLine, Line, LineStore
from full_disk import full_disk, open_files

NUMBERS = st.floats(allow_nan=False)


def line_of(values: list[float]) -> Line:
    """A value each second."""
    line = Line()
    for second, value in enumerate(values):
        line.put(float(second), value)
    return line


@given(st.lists(st.lists(NUMBERS, max_size=5), max_size=5))
def test_what_is_kept_is_what_was_put(lines: list[list[float]]) -> None:
    """To the last bit, in any order and as often as one looks, also while others are kept."""
    store = LineStore()
    kept: list[KeptLine] = []
    for values in lines:
        kept.append(store.keep(line_of(values)))
        for one, wanted in zip(reversed(kept), reversed(lines[: len(kept)]), strict=True):
            assert list(one) == list(enumerate(wanted))
            times, numbers = one.arrays()
            assert (times.tolist(), numbers.tolist()) == (list(range(len(wanted))), wanted)
            assert (len(one), bool(one)) == (len(wanted), bool(wanted))


#: Far more than waits in memory, so that there is a file.
LONG = [float(number) for number in range(20_000)]


def test_the_file_goes_with_the_last_line() -> None:
    """It stays as long as anybody may look at one."""
    before = open_files()
    store = LineStore()
    one, other = store.keep(line_of(LONG)), store.keep(line_of([2.0, 3.0]))
    del store, one
    assert open_files() == before + 1
    assert list(other) == [(0.0, 2.0), (1.0, 3.0)]
    del other
    assert open_files() == before


def test_an_empty_line_needs_no_store() -> None:
    """It is the same for all."""
    kept = LineStore().keep(Line())
    assert (list(kept), len(kept)) == ([], 0)
    assert kept == KeptLine()


def test_a_full_disk_loses_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it does not take, here the kernel's device that is always full (full(4)), stays in memory."""
    with Path("/dev/full").open("wb", buffering=0) as full:
        monkeypatch.setattr("tempfile.TemporaryFile", lambda **_: full)
        store = LineStore()
        kept = [store.keep(line_of(LONG)) for _ in range(2)]
        assert [list(one) for one in kept] == [list(enumerate(LONG))] * 2


def test_where_no_folder_for_temporary_files_has_room_nothing_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """Python looks for one anew, and finds that the disk of each is full."""
    monkeypatch.setattr(tempfile, "tempdir", None)
    with full_disk(0):
        assert list(LineStore().keep(line_of(LONG))) == list(enumerate(LONG))
    assert tempfile.tempdir is None


def test_a_disk_that_gives_nothing_back_is_a_user_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """With what to do: the folder for temporary files can be another."""
    kept = LineStore().keep(line_of(LONG))

    def broken(*_: int) -> bytes:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "pread", broken)
    with pytest.raises(UserError, match=r"set aside in a temporary folder cannot be read back: Input/output.*TMPDIR"):
        list(kept)
