"""Running ``reedwire`` in this process and in one of its own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from bridge.cli.main import main


def run_here(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[int, str, str]:
    """Exit status and both outputs of ``reedwire`` in this process."""
    monkeypatch.setattr(sys, "argv", ["reedwire", *words])
    with pytest.raises(SystemExit) as caught:
        main()
    out, err = capsys.readouterr()
    return int(caught.value.code or 0), out, err


def started(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """``reedwire`` in a process of its own with neither terminal nor MIDI; its outputs are pipes."""
    command = [sys.executable, "-m", "bridge.cli.main", *words]
    return subprocess.run(
        command, check=False, cwd=cwd, capture_output=True, text=True, timeout=120, stdin=subprocess.DEVNULL
    )
