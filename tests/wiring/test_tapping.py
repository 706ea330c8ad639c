"""A tempo tapped during a performance reaches the take."""

from __future__ import annotations

from pathlib import Path

import pytest
from lxml import etree

from bridge.base.commands import Command, Tap
from bridge.takes.take_yaml import read_take_yaml
from follow.tones import RATE
from wiring.stand_ins import Ear, Orders, Tone, run

#: A quarter in blocks of 128 samples, and the block of the first tap.
QUARTER, FIRST = 150, 100


def taps(count: int) -> list[Orders]:
    """The key, so many times in time."""
    orders: dict[int, Command] = {FIRST + QUARTER * number: Tap() for number in range(count)}
    return [Orders(orders)]


def test_four_taps_are_the_tempo_of_the_take_and_its_score(tmp_path: Path) -> None:
    """In take.yaml, with bar 1 at the first tap, and on the metronome mark; one notice says so."""
    said: list[str] = []
    report = run(Tone(), Ear(), inputs=taps(4), notice=said.append, take=tmp_path)
    assert report.folder is not None
    tempo = read_take_yaml(report.folder / "take.yaml")["tempo"]
    assert isinstance(tempo, dict)
    pace = 60.0 * RATE / (QUARTER * 128)
    assert tempo["known_from"] == "tap"
    assert tempo["quarters_per_minute"] == pytest.approx(pace, abs=0.5)
    # A command is taken between two blocks, so it may be one of them late.
    assert tempo["bar_1_s"] == pytest.approx(FIRST * 128 / RATE, abs=2 * 128 / RATE)
    assert [text.split(":")[0] for text in said] == ["Tapped"]
    mark = etree.parse(report.folder / "score.musicxml").findtext(".//per-minute")
    assert float(mark) == pytest.approx(pace, abs=0.5)


def test_three_taps_are_none(tmp_path: Path) -> None:
    """Nothing is said, and the take has no tempo."""
    said: list[str] = []
    report = run(Tone(), Ear(), inputs=taps(3), notice=said.append, take=tmp_path)
    assert report.folder is not None
    assert "tempo" not in read_take_yaml(report.folder / "take.yaml")
    assert said == []


def test_without_a_take_it_is_told_once_what_tapping_is_for() -> None:
    """However often the key is pressed."""
    said: list[str] = []
    run(Tone(), Ear(), inputs=taps(5), notice=said.append)
    assert len(said) == 1
    assert "--take DIR" in said[0]
