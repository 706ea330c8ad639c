"""A transcription that is killed: nothing is left that looks like a take, and the next one clears up."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import soundfile

from bridge.wiring.offline import transcribe_file
from bridge.wiring.opening import opened_take
from bridge.wiring.settings import load_settings
from follow.tones import RATE, harmonic_tone

#: Transcribes and stops for good at the first event, or before the take is put in its place, having said so.
STOPPING = """
import sys, time
from pathlib import Path
from bridge.takes.building import Building
from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings

def stop(*_):
    print("there", flush=True)
    time.sleep(600)

if sys.argv[3] == "whole":
    Building.put_in_place = stop
watch = stop if sys.argv[3] == "begun" else lambda _: None
transcribe_file(Path(sys.argv[1]), Path(sys.argv[2]), load_settings(flags={"harp.key": "C"}), watch=watch)
"""


@pytest.mark.parametrize("step", ["begun", "whole"])
def test_a_kill_leaves_nothing_that_looks_like_a_take(tmp_path: Path, step: str) -> None:
    """Killed (SIGKILL): no folder but a hidden one; the next transcription takes that away, says so, has the name."""
    recording, out = tmp_path / "fifth.wav", tmp_path / "takes"
    soundfile.write(recording, harmonic_tone(587.33, 0.5), RATE)
    command = [sys.executable, "-c", STOPPING, str(recording), str(out), step]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"there\n"
        child.send_signal(signal.SIGKILL)
    (left,) = out.iterdir()
    assert left.name.startswith(".")
    told: list[str] = []
    settings = load_settings(flags={"harp.key": "C"})
    report = transcribe_file(recording, out, settings, notice=told.append)
    assert report.folder == out / "fifth"
    assert list(out.iterdir()) == [report.folder]
    words = "the making of a take was stopped before it was whole; what was left of it is taken away."
    assert told == [f"{out}: {words}"]
    assert opened_take(report.folder, pytest.fail).notes
