"""An edit that is killed: nothing is left that looks like a take, and the next edit clears up."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.takes.choosing import Choice
from bridge.wiring.edited_take import write_edited
from bridge.wiring.editing import edit_bends
from bridge.wiring.opening import opened_take
from wiring.made_takes import make_take

#: Edits a take and stops for good just before a step, having said so.
STOPPING = """
import sys, time
from pathlib import Path
from bridge.takes.choosing import Choice
from bridge.wiring import edited_take
from bridge.wiring.editing import edit_bends
from bridge.wiring.opening import opened_take

def stop(*_, **__):
    print("there", flush=True)
    time.sleep(600)

setattr(edited_take, sys.argv[2], stop)
take = opened_take(Path(sys.argv[1]), print)
edited_take.write_edited(edit_bends(take, Choice(), 0.5), Path(sys.argv[1]).parent, "new")
"""


@pytest.mark.parametrize("step", ["write_take_yaml", "_write_sound", "_write_tables", "rebuild_take"])
def test_a_kill_leaves_nothing_that_looks_like_a_take(tmp_path: Path, step: str) -> None:
    """Killed (SIGKILL) before each step: no folder but a hidden one; the next edit takes that away and says so."""
    take = make_take(tmp_path / "phrase")
    command = [sys.executable, "-c", STOPPING, str(take.folder.path), step]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"there\n"
        child.send_signal(signal.SIGKILL)
    left = [path.name for path in tmp_path.iterdir() if path.name != "phrase"]
    assert len(left) == 1
    assert left[0].startswith(".")
    told: list[str] = []
    new = write_edited(edit_bends(take, Choice(), 0.5), tmp_path, "new", told.append)
    assert new.path == tmp_path / "new"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["new", "phrase"]
    words = "the making of a take was stopped before it was whole; what was left of it is taken away."
    assert told[0] == f"{tmp_path}: {words}"
    assert opened_take(new.path, pytest.fail).notes
