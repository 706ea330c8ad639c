"""The ``tempo:`` of a take: written, read back, and refused with the line where it is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.errors import UserError
from bridge.takes.edited import Tempo
from bridge.takes.take_yaml import TakeFacts, read_take_yaml, write_take_yaml
from bridge.takes.tempo import read_tempo, tempo_facts


@given(st.floats(20.0, 400.0), st.floats(-10.0, 4000.0), st.integers(1, 16))
def test_what_is_written_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, pace: float, bar: float, beats: int
) -> None:
    """Within a thousandth of a quarter a minute and a tenth of a millisecond."""
    path = tmp_path_factory.mktemp("take") / "take.yaml"
    write_take_yaml(path, TakeFacts("solo.wav", {}, {}, tempo=tempo_facts(Tempo(pace, bar, beats), "tap")))
    read = read_tempo(path)
    assert read is not None
    assert read.quarters_per_minute == pytest.approx(pace, abs=6e-4)
    assert read.bar_1_s == pytest.approx(bar, abs=6e-5)
    assert read.quarters_in_bar == beats


def test_a_take_without_a_tempo_says_nothing_of_one(tmp_path: Path) -> None:
    """No key is written, and none is read."""
    path = tmp_path / "take.yaml"
    write_take_yaml(path, TakeFacts("solo.wav", {}, {}))
    assert "tempo" not in read_take_yaml(path)
    assert read_tempo(path) is None


def test_of_an_estimate_it_is_kept_how_sure_it_is(tmp_path: Path) -> None:
    """``known_from`` and ``sure`` stand beside the numbers."""
    path = tmp_path / "take.yaml"
    write_take_yaml(path, TakeFacts("solo.wav", {}, {}, tempo=tempo_facts(Tempo(96.0, 1.25), "estimate", 0.834)))
    assert read_take_yaml(path)["tempo"] == {
        "quarters_per_minute": 96.0,
        "bar_1_s": 1.25,
        "quarters_in_bar": 4,
        "known_from": "estimate",
        "sure": 0.83,
    }


@pytest.mark.parametrize(
    ("lines", "complaint"),
    [
        ("tempo: fast", r"take\.yaml:2: tempo: found 'fast', allowed: these below it: quarters_per_minute, "),
        (
            "tempo:\n  bar_1_s: 1",
            r"take\.yaml:2: tempo\.quarters_per_minute: found None, allowed: a number from 20 to 400$",
        ),
        ("tempo:\n  quarters_per_minute: 9600", r"take\.yaml:3: tempo\.quarters_per_minute: found 9600, .* to 400$"),
        ("tempo:\n  quarters_per_minute: .nan", r"take\.yaml:3: tempo\.quarters_per_minute: found nan"),
        (
            "tempo:\n  quarters_per_minute: 96\n  bar_1_s: soon",
            r":4: tempo\.bar_1_s: found 'soon', allowed: seconds from ",
        ),
        (
            "tempo:\n  quarters_per_minute: 96\n  swing: 1",
            r":4: tempo\.swing: found 'swing', allowed: one of: quarters_p",
        ),
        (
            "tempo:\n  quarters_per_minute: 96\n  known_from: ear",
            r":4: .*'ear', allowed: one of option, tap, estimate$",
        ),
    ],
)
def test_what_is_wrong_is_told_with_its_line(tmp_path: Path, lines: str, complaint: str) -> None:
    """File, line, what was found and what is allowed."""
    path = tmp_path / "take.yaml"
    path.write_text(f"format: 1\n{lines}\n", encoding="utf-8")
    with pytest.raises(UserError, match=complaint):
        read_tempo(path)
