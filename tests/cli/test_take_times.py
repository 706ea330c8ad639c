"""Times of a take as they are typed and shown."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.cli.take_times import clock_time, parse_time


@pytest.mark.parametrize(
    ("words", "seconds"),
    [
        ("0", 0.0),
        ("12.5", 12.5),
        ("12,5", 12.5),
        (".5", 0.5),
        ("1:02.5", 62.5),
        ("61:00", 3660.0),
        ("90", 90.0),
        ("2:5", 125.0),
    ],
)
def test_what_is_typed(words: str, seconds: float) -> None:
    """Seconds, minutes and seconds, a decimal comma."""
    assert parse_time(words, "--from") == seconds


@pytest.mark.parametrize("words", ["", "x", "-1", "1:75", "1:", ":5", "1:2:3", "nan", "1e3"])
def test_what_is_no_time(words: str) -> None:
    """Told with the option, what was found and what is allowed."""
    with pytest.raises(UserError, match=r"--from: found .*1:02\.5"):
        parse_time(words, "--from")


@given(st.integers(0, 10**6))
def test_what_is_shown_is_read_back(tenths: int) -> None:
    """To the tenth of a second."""
    assert parse_time(clock_time(tenths / 10), "--from") == pytest.approx(tenths / 10)
