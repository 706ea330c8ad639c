"""What is gathered for later comes back as it was, whatever the disk takes and refuses meanwhile."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import ClosedError
from bridge.base.spool import Spool
from full_disk import full_disk, open_files

#: One step: bytes to append, what the disk takes of each write until then (None: all of it), whether all is read back.
_steps = st.lists(st.tuples(st.binary(max_size=40), st.sampled_from([None, 0, 1, 7]), st.booleans()), max_size=40)


def all_of(spool: Spool) -> bytes:
    """What it gives back."""
    return b"".join(spool.pieces())


@given(_steps, st.sampled_from([1, 7, 16]))
def test_all_comes_back_in_order_whatever_the_disk_refuses(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[bytes, int | None, bool]], piece_bytes: int
) -> None:
    """Any split of the bytes, a disk that refuses or takes a part at any write, and reading in the middle."""
    write, taken = os.pwrite, b""
    with pytest.MonkeyPatch.context() as patch, Spool(tmp_path_factory.mktemp("spool"), piece_bytes) as spool:
        for data, most, reads in steps:

            def takes(handle: int, piece: bytes, place: int, most: int | None = most) -> int:
                if most == 0:
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
                return write(handle, piece[:most], place)

            patch.setattr(os, "pwrite", takes)
            spool.append(data)
            taken += data
            if reads:
                assert all_of(spool) == taken
        pieces = list(spool.pieces())
    assert b"".join(pieces) == taken
    assert all(len(piece) == piece_bytes for piece in pieces[:-1])


@given(st.binary(max_size=60), st.integers(0, 60), st.integers(0, 60), st.integers(0, 60))
def test_any_part_of_it_can_be_read(
    tmp_path_factory: pytest.TempPathFactory, data: bytes, most_bytes: int, start: int, length: int
) -> None:
    """As a slice of all the bytes, whichever of them the disk has taken; beyond the end there is nothing."""
    with Spool(tmp_path_factory.mktemp("spool"), 7) as spool, full_disk(most_bytes):
        spool.append(data)
        assert spool.read(start, length) == data[start : start + length]


def test_memory_holds_one_piece_and_the_disk_the_rest(tmp_path: Path) -> None:
    """Of a hundred pieces all are in the file, which has no name; there is none while all fits into one piece."""
    with Spool(tmp_path, 1000) as spool:
        handles = open_files()
        spool.append(bytes(999))
        assert open_files() == handles
        for _ in range(1000):
            spool.append(bytes(100))
        assert open_files() == handles + 1
        assert list(tmp_path.iterdir()) == []
        assert len(spool._waiting) < 1000
    assert open_files() == handles


def test_a_full_disk_costs_nothing_and_is_used_again_once_it_has_room(tmp_path: Path) -> None:
    """What it refuses is in memory until the next piece comes, and is not asked for with every byte."""
    data = os.urandom(1000)
    with Spool(tmp_path, 100) as spool:
        with full_disk(250):
            for start in range(0, 500, 10):
                spool.append(data[start : start + 10])
            assert len(spool._waiting) == 300
            assert all_of(spool) == data[:500]
        spool.append(data[500:590])
        assert len(spool._waiting) == 390
        spool.append(data[590:])
        assert spool._waiting == b""
        assert all_of(spool) == data


def test_a_folder_that_is_gone_costs_nothing(tmp_path: Path) -> None:
    """Where no file can be made all stays in memory, until one can."""
    folder = tmp_path / "gone"
    with Spool(folder, 10) as spool:
        spool.append(b"0123456789abc")
        assert all_of(spool) == b"0123456789abc"
        folder.mkdir()
        spool.append(b"0123456")
        assert spool._waiting == b""
        assert all_of(spool) == b"0123456789abc0123456"


def test_where_no_folder_for_temporary_files_has_room_all_stays_in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """Python looks for one anew, writes to each that there might be, and finds that all are full."""
    monkeypatch.setattr(tempfile, "tempdir", None)
    with Spool(None, 10) as spool, full_disk(0):
        spool.append(b"0123456789abc")
        assert all_of(spool) == b"0123456789abc"
        assert tempfile.tempdir is None


def test_more_may_be_appended_while_it_is_read(tmp_path: Path) -> None:
    """A reading ends where the bytes ended when it began, wherever they have gone since."""
    with Spool(tmp_path, 4) as spool:
        spool.append(b"abcdefghij")
        reading = spool.pieces()
        assert next(reading) == b"abcd"
        spool.append(b"klmnop")
        assert list(reading) == [b"efgh", b"ij"]
        assert all_of(spool) == b"abcdefghijklmnop"


@pytest.mark.parametrize("fault", ["refused", "short"])
def test_what_the_disk_does_not_give_back_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: str) -> None:
    """The error says what could not be read and where, with the number of an input or output error."""

    def read(_handle: int, _length: int, _place: int) -> bytes:
        if fault == "refused":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return b"abc"

    with Spool(tmp_path, 4) as spool:
        spool.append(b"abcdef")
        monkeypatch.setattr(os, "pread", read)
        with pytest.raises(OSError, match=f"set aside in {tmp_path} cannot be read back: Input/output error") as told:
            spool.copy_to(tmp_path / "copy")
    assert told.value.errno == errno.EIO


def test_what_is_taken_back_is_in_memory_and_leaves_the_disk(tmp_path: Path) -> None:
    """All of it, to which more may come, that is put on the disk again by and by."""
    handles = open_files()
    with Spool(tmp_path, 4) as spool:
        spool.append(b"abcdefghij")
        spool.take_back()
        assert open_files() == handles
        assert all_of(spool) == b"abcdefghij"
        spool.append(b"klmnop")
        assert open_files() == handles + 1
        assert all_of(spool) == b"abcdefghijklmnop"


def test_a_copy_holds_all_of_it(tmp_path: Path) -> None:
    """What lies on the disk and what is still in memory, as often as it is copied."""
    with Spool(tmp_path, 4) as spool:
        spool.append(b"abcdefghij")
        for name in ("one", "two"):
            spool.copy_to(tmp_path / name)
            assert (tmp_path / name).read_bytes() == b"abcdefghij"


def test_once_closed_it_takes_and_gives_nothing(tmp_path: Path) -> None:
    """Closing twice is fine; all else raises."""
    spool = Spool(tmp_path, 4)
    spool.append(b"abcdef")
    spool.close()
    spool.close()
    with pytest.raises(ClosedError):
        spool.append(b"g")
    with pytest.raises(ClosedError):
        all_of(spool)
    with pytest.raises(ClosedError):
        spool.read(0, 1)


@pytest.mark.parametrize("most_bytes", [0, 1000])
def test_a_reading_that_is_not_at_its_end_when_it_is_closed_raises(tmp_path: Path, most_bytes: int) -> None:
    """Whether the disk has what is missing or memory: nobody takes a part for all of it."""
    with Spool(tmp_path, 4) as spool, full_disk(most_bytes):
        spool.append(b"abcdefghij")
        reading = spool.pieces()
        assert next(reading) == b"abcd"
    with pytest.raises(ClosedError):
        next(reading)


#: Gathers a megabyte in a folder, says so, and waits.
_GATHERING = """
import sys
from pathlib import Path
from bridge.base.spool import Spool

spool = Spool(Path(sys.argv[1]), 1000)
for _ in range(1000):
    spool.append(bytes(1000))
print("gathered", flush=True)
sys.stdin.read()
"""


def test_a_killed_process_leaves_no_file(tmp_path: Path) -> None:
    """The file has no name, so the system takes it away with the process."""
    command = [sys.executable, "-c", _GATHERING, str(tmp_path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"gathered\n"
        child.send_signal(signal.SIGKILL)
    assert list(tmp_path.iterdir()) == []
