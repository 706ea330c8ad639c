"""How far opening, recovering and rebuilding a take are: told from its beginning to its end, never back."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from bridge.base.progress import share
from bridge.takes.edited import Breakpoint
from bridge.takes.reading import read_events
from bridge.takes.tables import read_tables
from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.recovering import recover_take
from takes.made_notes import edited
from wiring.made_takes import make_take


def is_a_way(parts: list[float]) -> bool:
    """Whether they lead on from somewhere to somewhere, within 0 and 1."""
    return len(parts) > 1 and all(0.0 <= one <= other <= 1.0 for one, other in pairwise(parts))


def moving_take(path: Path, corners: int) -> None:
    """A take with one note of so many corners, a hundredth of a second apart."""
    points = tuple(Breakpoint(step / 100.0, float(step % 7), 0.5) for step in range(corners))
    make_take(path, [edited(1, 0.0, corners / 100.0, 67, degree="1", points=points)], sound_s=None)


def test_a_share_lies_where_it_belongs() -> None:
    """From the beginning of the piece to its end, as a part of the whole."""
    parts: list[float] = []
    piece = share(parts.append, 0.25, 0.75)
    for done in (0.0, 0.5, 1.0):
        piece(done)
    assert parts == [0.25, 0.5, 0.75]


def test_long_tables_tell_how_far_they_are_read(tmp_path: Path) -> None:
    """After each thousand lines, by the lines of the file."""
    moving_take(tmp_path / "take", 2499)
    parts: list[float] = []
    (note,) = read_tables(tmp_path / "take" / "notes.csv", tmp_path / "take" / "inflections.csv", parts.append)
    assert len(note.points) == 2499
    assert parts == pytest.approx([0.4, 0.8], abs=0.001)


def test_taking_a_midi_file_back_is_told_on_the_way(tmp_path: Path) -> None:
    """Opening, reading and making are one way from 0 to 1."""
    take = tmp_path / "take"
    moving_take(take, 1200)
    rebuild_take(take, pytest.fail)
    parts: list[float] = []
    rebuild_take(take, pytest.fail, from_midi=take / "performance.mid", progress=parts.append)
    assert is_a_way(parts)
    assert parts[-1] == 1.0
    assert any(0.15 <= part < 0.3 for part in parts)


def test_recovering_is_told_by_what_is_read(tmp_path: Path) -> None:
    """Of a curve of some megabytes each quarter of one is told, then each file that is made."""
    take = tmp_path / "take"
    make_take(take, sound_s=None)
    (take / "journal.jsonl").write_text("", encoding="utf-8")
    row = "1.00000,1.00000,440.00,0.00,-20.0,1.000\n"
    rows = 1_000_000 // len(row)
    (take / "curve.csv").write_text("ready_s,time_s,hz,cents,level_db,clean\n" + row * rows, encoding="utf-8")
    parts: list[float] = []
    assert sum(1 for _ in read_events(take / "journal.jsonl", take / "curve.csv", parts.append)) == rows
    assert is_a_way(parts)
    assert 0.7 < parts[-1] <= 1.0
    parts.clear()
    recover_take(take, pytest.fail, parts.append)
    assert is_a_way(parts)
    assert any(0.5 < part < 0.8 for part in parts)
    for name in ("notes.csv", "inflections.csv"):
        (take / name).unlink()
    parts.clear()
    assert opened_take(take, lambda _: None, parts.append).notes == ()
    assert is_a_way(parts)
