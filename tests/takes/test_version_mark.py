"""The mark of a version of the tables, wherever it stands in a MIDI file."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.takes.version_mark import mark_in, mark_of
from takes.made_notes import edited

MARK = mark_of([edited(1, 0.0, 1.0, 60)])
#: Far more than is read at a time, so that a mark lies on every border.
PLACES = st.integers(0, 300_000) | st.integers(-40, 40).map(lambda off: (1 << 16) + off)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(PLACES, st.integers(0, 100_000))
def test_it_is_found_wherever_a_sequencer_has_put_it(tmp_path: Path, before: int, after: int) -> None:
    """In the middle of a long file too; one digit short it is none."""
    path = tmp_path / "some.mid"
    path.write_bytes(bytes(before) + MARK.encode() + bytes(after))
    assert mark_in(path) == MARK
    path.write_bytes(bytes(before) + MARK[:-1].encode() + bytes(after))
    assert mark_in(path) is None


def test_of_two_the_first_counts(tmp_path: Path) -> None:
    """And a file that is not there is told."""
    path = tmp_path / "some.mid"
    other = mark_of([edited(1, 0.0, 1.0, 61)])
    path.write_bytes(bytes(70_000) + other.encode() + bytes(10) + MARK.encode())
    assert mark_in(path) == other != MARK
    with pytest.raises(UserError, match="No such file"):
        mark_in(tmp_path / "gone.mid")
