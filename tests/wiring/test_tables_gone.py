"""Tables that are gone, or that a spreadsheet has saved as something else: what was edited is not lost unsaid."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.recovering import recover_take
from wiring.made_takes import make_take


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The made-up phrase: kept as played, then edited by hand and rebuilt."""
    path = make_take(tmp_path / "phrase", sound_s=None).folder.path
    (path / "played").mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.copy(path / name, path / "played" / name)
    text = (path / "notes.csv").read_text(encoding="utf-8")
    (path / "notes.csv").write_text(text.replace("1,0.25000", "1,0.12500"), encoding="utf-8")
    rebuild_take(path, pytest.fail)
    (path / "notes.csv").write_text(text.replace("1,0.25000", "1,0.12000"), encoding="utf-8")
    rebuild_take(path, pytest.fail)
    return path


@pytest.mark.parametrize("open_it", [opened_take, recover_take])
def test_a_table_comes_back_as_it_was_last_rebuilt(take: Path, open_it: object) -> None:
    """With what was edited in it, and it is said which version that is and where there are others."""
    edited = (take / "notes.csv").read_bytes()
    (take / "notes.csv").unlink()
    told: list[str] = []
    assert callable(open_it)
    open_it(take, told.append)
    assert (take / "notes.csv").read_bytes() == edited
    (line,) = told
    assert line.startswith(f"{take / 'notes.csv'} was gone. It was put back from {take / 'rebuilt'}, as it was when ")
    assert line.endswith(f" last rebuilt; other versions lie in {take / 'before'}.")


@pytest.mark.parametrize("kind", [".xlsx", ".xls", ".ods"])
@pytest.mark.parametrize("table", ["notes", "inflections"])
def test_what_a_spreadsheet_keeps_for_itself_is_told_to_be_unread(take: Path, table: str, kind: str) -> None:
    """While it is newer than the table, or the table is gone; one from before says nothing new."""
    other = take / f"{table}{kind}"
    other.write_bytes(b"PK")
    told: list[str] = []
    csv = take / f"{table}.csv"
    os.utime(csv, (1e9, 1e9))
    opened_take(take, told.append)
    assert told == [f"{other} is not read. Save it as CSV, as {csv}, to have what was edited in it."]
    os.utime(other, (1e9 - 5.0, 1e9 - 5.0))
    opened_take(take, pytest.fail)
    csv.unlink()
    opened_take(take, told.append)
    assert [str(other) in told[1], "was gone" in told[2], len(told)] == [True, True, 3]


def test_bends_that_are_gone_are_told_with_the_version_before(take: Path) -> None:
    """A table of breakpoints with nothing but its header leaves every note straight."""
    header = (take / "inflections.csv").read_text(encoding="utf-8").splitlines()[0]
    (take / "inflections.csv").write_text(f"{header}\n", encoding="utf-8")
    told: list[str] = []
    done = rebuild_take(take, told.append)
    (line,) = told
    assert line.startswith(f"{take / 'inflections.csv'}: no breakpoints for 2 notes: their bends are gone. ")
    assert line.endswith(f"The version before is in {done.before}.")
    rebuild_take(take, pytest.fail)
