"""``reedwire tune`` at a silent sound card that a player plays into."""

from __future__ import annotations

import signal
import subprocess
from pathlib import Path

import numpy as np
import pytest

from bridge.base.yaml_file import read_yaml
from bridge.harp.harp_file import read_harp_file
from jack_server import jack_server
from main_job.command import PATIENCE_S, REEDWIRE
from main_job.live import Player, wait_until
from parts import require, running
from sounds.tuned import SEVEN_LIMIT, Straight, soft_and_hard, tuned

PERIOD = 1024


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["ctrl-c", "terminate"])
def test_a_player_who_stops_too_early_is_told_that_nothing_was_written(tmp_path: Path, number: signal.Signals) -> None:
    """Status 130, one line, no file."""
    require("portaudio")
    out = tmp_path / "out.txt"
    with (
        jack_server(period=PERIOD, patient=True) as env,
        out.open("wb") as said,
        running(
            [REEDWIRE, "tune", "--harp", "C"],
            env={**env, "PYTHONUNBUFFERED": "1"},
            cwd=tmp_path,
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.PIPE,
        ) as process,
    ):
        wait_until("the first note is asked for", lambda: b"1 of 6" in out.read_bytes(), lambda: process.poll() is None)
        process.send_signal(number)
        _, err = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, err) == (130, b"Stopped; nothing was written.\n")
    assert [path.name for path in tmp_path.iterdir()] == ["out.txt"]


def test_a_player_is_led_through_the_notes_and_gets_a_file(tmp_path: Path) -> None:
    """Each step is asked for before it is played, a short note is sent back, and the file comes after a rest."""
    require("portaudio")
    notes = [Straight("draw 2", length_s=0.5), *soft_and_hard("draw 2", "draw 3", "draw 4", fall_cents=6.0)]
    np.save(tmp_path / "sound.npy", tuned(notes, "C", 443.0))
    out, err = tmp_path / "out.txt", tmp_path / "err.txt"
    with (
        jack_server(period=PERIOD, patient=True) as env,
        Player(tmp_path / "sound.npy", env) as player,
        out.open("wb") as said,
        err.open("wb") as complained,
        running(
            [REEDWIRE, "tune", "--harp", "C"],
            env={**env, "PYTHONUNBUFFERED": "1"},
            cwd=tmp_path,
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=complained,
        ) as process,
    ):
        player.order("connect player:sound PortAudio:in_0")
        player.wait_for("connected")
        wait_until("the first note is asked for", lambda: b"1 of 6" in out.read_bytes(), lambda: process.poll() is None)
        player.order("play")
        status = process.wait(PATIENCE_S)
        player.end()
    lines = out.read_text(encoding="utf-8").splitlines()
    assert (status, err.read_text(encoding="utf-8")) == (0, "")
    steps = [line.split(" (")[0] for line in lines if " of 6: " in line]
    assert steps == [
        *("1 of 6: draw 2", "1 of 6: draw 2", "2 of 6: draw 2", "3 of 6: draw 3"),
        *("4 of 6: draw 3", "5 of 6: draw 4", "6 of 6: draw 4"),
    ]
    assert sum("Not counted: too short" in line for line in lines) == 1
    cautions = [index for index, line in enumerate(lines) if "Light-headed" in line or "qualified person" in line]
    assert len(cautions) == 2
    assert max(cautions) < next(index for index, line in enumerate(lines) if "1 of 6" in line)
    found = read_harp_file(read_yaml(tmp_path / "my-harp.yaml").data)
    assert found.a4_hz == pytest.approx(443.0, abs=0.2)
    assert found.reeds["draw 3"].offset_cents == pytest.approx(SEVEN_LIMIT["draw 3"], abs=1.5)
