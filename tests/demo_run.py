"""The demo, which takes a quarter of a minute, played once in a run for all tests that look at what it leaves.

Where pytest runs with several workers (``-n``), the first that needs it plays it while the others wait for it; for each
worker to have its own, as with a fixture of the session alone, would be to play it once more for each.
"""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import asdict, dataclass
from pathlib import Path

import pytest
from filelock import FileLock

from main_job.command import Said, reedwire

#: The folder that it was told to leave its take in, from where it was started.
OUT = Path("mine")


@dataclass(frozen=True)
class Demo:
    """What the demo said, and the take that it has left; for reading only."""

    said: Said
    take: Path


def played_once(factory: pytest.TempPathFactory) -> Demo:
    """The demo as fast as it goes, by the real command, with OSC sent to where nobody listens (RFC 863's port).

    Raises AssertionError when it failed; whoever asks next tries it again.
    """
    where = _folder_of_the_run(factory) / "demo"
    told = where / "said.json"
    with FileLock(where.with_suffix(".lock")):
        if not told.exists():
            shutil.rmtree(where, ignore_errors=True)
            where.mkdir()
            said = _play(where)
            told.write_text(json.dumps(asdict(said)), encoding="utf-8")
    (take,) = (where / OUT).iterdir()
    return Demo(Said(**json.loads(told.read_text(encoding="utf-8"))), take)


def _play(where: Path) -> Said:
    """Play it in this folder, to its end."""
    quiet = ("--midi", "none", "--osc", "127.0.0.1:9", "--set", "send.osc.listen=none")
    said = reedwire("demo", "--fast", "--out", OUT, *quiet, cwd=where)
    assert said.status == 0, said.err
    return said


def _folder_of_the_run(factory: pytest.TempPathFactory) -> Path:
    """The folder for temporary files that all workers of this run have in common, and no other run.

    A worker of pytest-xdist has its own within that of the run; who runs alone has that of the run.
    """
    own = factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
