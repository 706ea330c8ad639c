"""Outputs that are full, closed, or whose reader has gone."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

_RATE = 48000


def test_a_reader_that_goes_away_ends_nothing_but_the_reading(tone: Path, tmp_path: Path) -> None:
    """With its output's reader gone the performance goes on to its end and leaves its take, without a traceback."""
    reader, writer = os.pipe()
    os.close(reader)
    command = [sys.executable, "-m", "bridge.cli.main", "play", "--input", str(tone), "--midi", "none", "--osc", "none"]
    with os.fdopen(writer, "wb") as gone:
        run = subprocess.run(
            [*command, "--take", "kept"],
            check=False,
            cwd=tmp_path,
            stdout=gone,
            stderr=subprocess.PIPE,
            text=True,
            timeout=120,
        )
    assert "Traceback" not in run.stderr
    (folder,) = (tmp_path / "kept").iterdir()
    assert len((folder / "notes.csv").read_text(encoding="utf-8").splitlines()) == 2


@pytest.mark.parametrize("words", [("--version",), ("devices",), ("transcribe", "draw three.wav", "--out", "takes")])
def test_an_output_that_takes_nothing_is_told_in_one_line(words: tuple[str, ...], tone: Path) -> None:
    """On a full disk (/dev/full, full(4)) one plain line and status 1; never a traceback, not even on the way out."""
    command = [sys.executable, "-m", "bridge.cli.main", *words]
    with Path("/dev/full").open("wb") as full:
        run = subprocess.run(command, check=False, cwd=tone.parent, stdout=full, stderr=subprocess.PIPE, text=True)
    assert run.returncode == 1
    assert run.stderr == "reedwire: The output cannot be written (No space left on device).\n"


@pytest.mark.parametrize("closing", [">&-", ">&- 2>&- <&-"])
def test_closed_outputs_are_no_hindrance(closing: str, tone: Path) -> None:
    """With standard output, or all three, closed by the shell the performance goes on and its take is whole."""
    words = f"-m bridge.cli.main play --input '{tone.name}' --midi none --osc none --take kept"
    command = ["sh", "-c", f"exec '{sys.executable}' {words} {closing}"]
    run = subprocess.run(command, check=False, cwd=tone.parent, capture_output=True, text=True, timeout=120)
    assert run.returncode == 0
    assert "Traceback" not in run.stderr
    (folder,) = (tone.parent / "kept").iterdir()
    assert len((folder / "notes.csv").read_text(encoding="utf-8").splitlines()) == 2
