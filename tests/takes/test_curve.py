"""``curve.csv``: columns, decimals, thinning and whole lines."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import ClosedError
from bridge.base.events import PitchPoint
from bridge.takes.curve import CurveWriter
from send.made_events import point


def rows(path: Path) -> list[dict[str, str]]:
    """The table as the standard library reads it (RFC 4180)."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_file_is_exactly_the_format(tmp_path: Path) -> None:
    """Comma, decimal point, LF, fixed decimals."""
    path = tmp_path / "curve.csv"
    curve = CurveWriter(path)
    curve.add(PitchPoint(0.99333, 1.0, 493.883, 386.314, -20.15, 0.9876))
    curve.add(PitchPoint(0.99467, 1.00133, 0.0, 0.0, -120.0, 0.0))
    curve.close()
    assert path.read_bytes() == (
        b"ready_s,time_s,hz,cents,level_db,clean\n"
        b"1.00000,0.99333,493.883,386.31,-20.15,0.988\n"
        b"1.00133,0.99467,0.000,0.00,-120.00,0.000\n"
    )


@given(
    st.lists(
        st.builds(
            PitchPoint,
            st.floats(0.0, 1e4),
            st.floats(0.0, 1e4),
            st.floats(0.0, 4000.0),
            st.floats(-2400.0, 4800.0),
            st.floats(-120.0, 0.0),
            st.floats(0.0, 1.0),
        ),
        max_size=20,
    )
)
def test_every_row_is_read_back(tmp_path_factory: pytest.TempPathFactory, points: list[PitchPoint]) -> None:
    """Values come back within half of the last decimal kept."""
    path = tmp_path_factory.mktemp("curve") / "curve.csv"
    curve = CurveWriter(path)
    for each in points:
        curve.add(each)
    curve.close()
    for row, each in zip(rows(path), points, strict=True):
        for name, half in (("ready_s", 5e-6), ("time_s", 5e-6), ("hz", 5e-4), ("cents", 5e-3), ("clean", 5e-4)):
            assert abs(float(row[name]) - getattr(each, name)) <= half * 1.000001


@pytest.mark.parametrize(("frame_rate", "kept"), [(750, 250), (250, 250), (200, 200)])
def test_a_live_curve_is_thinned_to_its_rate(tmp_path: Path, frame_rate: int, kept: int) -> None:
    """Of a second of frames at most 250 evenly spaced rows are kept, and none is lost at exactly that rate."""
    curve = CurveWriter(tmp_path / "curve.csv", rows_per_second=250.0)
    for index in range(frame_rate):
        curve.add(point(index / frame_rate))
    curve.close()
    times = [float(row["ready_s"]) for row in rows(tmp_path / "curve.csv")]
    assert len(times) == kept
    assert min(after - before for before, after in pairwise(times)) > 1 / 250 - 2e-5


def test_whole_lines_reach_the_file_at_the_interval(tmp_path: Path) -> None:
    """Before closing, everything up to the last interval is there, in whole lines."""
    path = tmp_path / "curve.csv"
    curve = CurveWriter(path, flush_s=0.25)
    for index in range(100):
        curve.add(point(index * 0.01))
    text = path.read_text()
    assert text.endswith("\n")
    assert 75 <= text.count("\n") - 1 <= 100
    curve.close()
    assert path.read_text().count("\n") - 1 == 100


def test_an_existing_curve_is_not_touched_and_a_closed_one_raises(tmp_path: Path) -> None:
    """A curve that is there stays."""
    path = tmp_path / "curve.csv"
    path.write_text("kept")
    with pytest.raises(FileExistsError):
        CurveWriter(path)
    assert path.read_text() == "kept"
    curve = CurveWriter(tmp_path / "other.csv")
    curve.close()
    curve.close()
    curve.add(point(0.0))
    with pytest.raises(ClosedError):
        curve.flush()
