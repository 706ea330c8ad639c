"""``--harp-file`` where a recording is taken: ``transcribe`` and ``check``."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from cli.commands import run_here
from cli.test_check import recording
from wiring.harp_files import MINE, harp_file


def test_transcribe_hears_a_recording_as_the_harp_of_the_file(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, tone: Path
) -> None:
    """Its line names harp and file, and the take says what was measured."""
    monkeypatch.chdir(tmp_path)
    harp_file(tmp_path)
    words = ("transcribe", str(tone), "--out", "takes", "--harp-file", "mine.yaml", "--position", "1")
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert (status, err) == (0, "")
    assert "heard as A harp, first position, as in mine.yaml, in takes" in out
    kept = yaml.safe_load((tmp_path / "takes" / tone.stem / "take.yaml").read_text(encoding="utf-8"))
    assert (kept["harp"]["file"], kept["harp"]["a4_hz"]) == ("mine.yaml", 442.3)
    assert kept["settings"]["harp"]["file"] == "mine.yaml"


def test_transcribe_says_when_the_straight_third_cannot_be_used(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, tone: Path
) -> None:
    """One line on standard error for all recordings; they are transcribed all the same."""
    flat = harp_file(tmp_path, text=MINE.replace("-12.9", "-60.0"))
    words = ("transcribe", str(tone), str(tone), "--out", str(tmp_path / "takes"), "--harp-file", flat)
    status, out, err = run_here(capsys, monkeypatch, *words)
    assert status == 0
    assert len(out.splitlines()) == 2
    (line,) = err.splitlines()
    assert "lies 338 cents above its root" in line


def test_check_listens_for_the_harp_of_the_file(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It finds what it finds for the same harp by its key and A4."""
    file = recording(tmp_path / "a.wav")
    said = {}
    for words in (("--harp-file", harp_file(tmp_path)), ("--harp", "A", "--a4", "442.3")):
        status, said[words[0]], _ = run_here(capsys, monkeypatch, "check", "--file", str(file), *words)
        assert status == 0
    assert said["--harp-file"] == said["--harp"]
