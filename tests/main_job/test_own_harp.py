"""From ``reedwire tune`` to ``reedwire transcribe --harp-file``: a straight third of the player's own harp is straight.

The harp is sampled, tuned by the 7-limit table of O. Hansson, Theory of harmonica tuning (2004-06), 8B, at A4 = 443 Hz.
"""

from __future__ import annotations

import csv
from pathlib import Path
from statistics import median

import pytest
import soundfile
import yaml

from cli.commands import run_here
from sounds.sampled import RATE
from sounds.tuned import Straight, soft_and_hard, tuned

A4_HZ = 443.0


def test_the_straight_third_of_a_tuned_harp_has_no_depth(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Its depth, (straight - c) / (straight - minor), is 0.00 +/- 0.03, and above 0.1 where only the A4 is told."""
    monkeypatch.chdir(tmp_path)
    soundfile.write("lesson.wav", tuned(soft_and_hard("draw 2", "draw 3", "draw 4"), "C", A4_HZ), RATE, subtype="FLOAT")
    soundfile.write("third.wav", tuned([Straight("draw 3")], "C", A4_HZ), RATE, subtype="FLOAT")
    status, _, err = run_here(capsys, monkeypatch, "tune", "--file", "lesson.wav", "--harp", "C", "--out", "mine.yaml")
    assert (status, err) == (0, "")
    depths = {}
    for out, words in {"own": ["--harp-file", "mine.yaml"], "plain": ["--harp", "C", "--a4", "443"]}.items():
        status, _, err = run_here(capsys, monkeypatch, "transcribe", "third.wav", "--out", out, *words)
        assert (status, err) == (0, "")
        kept = yaml.safe_load(Path(out, "third", "take.yaml").read_text(encoding="utf-8"))
        straight = kept["harp"]["straight_third_cents"]
        depths[out] = (straight - _held_cents(Path(out, "third", "curve.csv"))) / (straight - 300.0)
    assert depths["own"] == pytest.approx(0.0, abs=0.03)
    assert depths["plain"] > 0.1


def _held_cents(path: Path) -> float:
    """The pitch above the root while the one note is held, its first and last half second left out."""
    with path.open(newline="", encoding="utf-8") as file:
        heard = [(float(row["time_s"]), float(row["cents"])) for row in csv.DictReader(file) if float(row["hz"]) > 0.0]
    start_s, end_s = heard[0][0] + 0.5, heard[-1][0] - 0.5
    return median(cents for time_s, cents in heard if start_s <= time_s <= end_s)
