"""``reedwire check`` on a silent sound card whose output is led back to its input: delay, level and noise are known.

What is added on the way: JACK hands what a client plays on to what it hears one period later (its documentation: a loop
back to the same client takes a period), and PortAudio keeps one block of its own (as measured with two block sizes).
"""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import yaml

from bridge.wiring.settings import load_settings
from jack_server import jack_server
from main_job import jack_room
from main_job.command import PATIENCE_S, REEDWIRE, Said, reedwire
from main_job.live import wait_until
from parts import require, running

RATE, PERIOD = 48000, 1024


@contextmanager
def room(
    env: Mapping[str, str], *, delay: int = 0, gain_db: float = -200.0, noise: float, tone_hz: float = 0.0
) -> Iterator[None]:
    """The air between loudspeaker and microphone while the ``with`` lasts."""
    numbers = (delay, 10.0 ** (gain_db / 20.0), noise, tone_hz)
    command = [sys.executable, jack_room.__file__, *map(str, numbers)]
    with running(command, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        try:
            yield
        finally:
            # A client that is killed can keep its server from ending in order.
            assert process.stdin is not None
            process.stdin.close()
            process.wait(PATIENCE_S)


def checked(cwd: Path, *arguments: str, **air: float) -> Said:
    """``reedwire check`` in that room."""
    require("portaudio")
    with jack_server(period=PERIOD, patient=True) as env, room(env, **air):  # type: ignore[arg-type]
        return reedwire("check", *arguments, cwd=cwd, env=env)


def noise_after_filters_db(noise: float) -> float:
    """Level of white noise of that RMS in the band that the follower leaves of it, for a C harp.

    Equivalent noise bandwidth of second-order Butterworth filters is 1.11 corner frequencies (any textbook of signal
    processing): from about 110 Hz to 9000 Hz, of 24000 Hz.
    """
    return 20.0 * float(np.log10(noise)) + 10.0 * float(np.log10((1.11 * 9000.0 - 120.0) / (RATE / 2)))


@pytest.mark.parametrize(
    ("delay_ms", "gain_db", "block", "words"),
    [(15.0, -12.0, 128, "Use headphones"), (40.0, -30.0, PERIOD, "No headphones")],
)
def test_delay_and_level_of_the_loudspeaker_are_measured(
    tmp_path: Path, delay_ms: float, gain_db: float, block: int, words: str
) -> None:
    """The delay within 1 ms of the one made beyond what JACK and PortAudio add, the level within 1 dB."""
    air = {"delay": round(delay_ms * RATE / 1000.0), "gain_db": gain_db, "noise": 3e-4}
    said = checked(tmp_path, "--yes", "--seconds", "2", "--set", f"capture.block={block}", **air)
    assert said.status == 0, said.err
    assert said.accidents == []
    found = re.search(r"comes back after ([\d.]+) ms, ([+-][\d.]+) dB", said.out)
    assert found is not None, said.out
    assert float(found[1]) == pytest.approx(delay_ms + 1000.0 * (PERIOD + block) / RATE, abs=1.0)
    assert float(found[2]) == pytest.approx(gain_db, abs=1.0)
    assert words in said.out


def test_the_noise_is_learned_and_the_gate_saved_as_a_preset(tmp_path: Path) -> None:
    """Within 1 dB of what was made; the preset loads, nothing is written over, and nothing was played."""
    arguments = ("--room-only", "--seconds", "2", "--save", "room.yaml")
    said = checked(tmp_path, *arguments, noise=1e-3)
    assert said.status == 0, said.err
    found = re.search(r"noise is at (-[\d.]+) dBFS", said.out)
    assert found is not None
    assert float(found[1]) == pytest.approx(noise_after_filters_db(1e-3), abs=1.0)
    saved = (tmp_path / "room.yaml").read_text(encoding="utf-8")
    gate = yaml.safe_load(saved)["follow"]["gate"]
    assert f"--set follow.gate.open_db={gate['open_db']} --set follow.gate.close_db={gate['close_db']}" in said.out
    assert load_settings(str(tmp_path / "room.yaml")).follow.gate.open_db == gate["open_db"]
    refused = reedwire("check", *arguments, cwd=tmp_path)
    assert refused.status == 2
    assert "was not touched" in refused.err
    assert (tmp_path / "room.yaml").read_text(encoding="utf-8") == saved


def test_a_tone_while_learning_is_told_and_nothing_is_saved(tmp_path: Path) -> None:
    """Somebody who played is asked to play nothing; status 1."""
    said = checked(tmp_path, "--no-sound", "--seconds", "2", "--save", "room.yaml", noise=1e-4, tone_hz=440.0)
    assert said.status == 1
    assert "Somebody played, or a tone sounds in the room (about 440 Hz). Play nothing for 2 seconds" in said.err
    assert not (tmp_path / "room.yaml").exists()


def test_ctrl_c_while_the_room_is_learned_is_one_line(tmp_path: Path) -> None:
    """Status 130, nothing is saved."""
    require("portaudio")
    out = tmp_path / "out.txt"
    with (
        jack_server(period=PERIOD, patient=True) as env,
        out.open("wb") as said,
        running(
            [REEDWIRE, "check", "--no-sound", "--save", "room.yaml", "--seconds", "60"],
            env={**env, "PYTHONUNBUFFERED": "1"},
            cwd=tmp_path,
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.PIPE,
        ) as process,
    ):
        wait_until("the room is learned", lambda: b"Play nothing" in out.read_bytes(), lambda: process.poll() is None)
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=PATIENCE_S)
    assert (process.returncode, err) == (130, b"Stopped before the room was learned; nothing was written.\n")
    assert [path.name for path in tmp_path.iterdir()] == ["out.txt"]


def test_headphones_bring_nothing_back(tmp_path: Path) -> None:
    """Without a return it says so, having tried louder; status 0."""
    said = checked(tmp_path, "--yes", "--seconds", "2", noise=1e-3)
    assert said.status == 0, said.err
    assert "Nothing surely came back" in said.out


def test_play_learns_the_room_first(tmp_path: Path) -> None:
    """``--learn-room`` prints the gate before it begins, and plays with it: the noise sends no note."""
    require("portaudio")
    arguments = ("--learn-room", "--seconds", "2", "--midi", "none", "--osc", "none")
    with jack_server(period=PERIOD, patient=True) as env, room(env, noise=3e-3):
        said = reedwire("play", *arguments, "--set", "send.osc.listen=none", cwd=tmp_path, env=env)
    assert said.status == 0, said.err
    assert said.accidents == []
    learned, played = said.out.index("--set follow.gate.open_db=-4"), said.out.index("0 notes in 2.0 s.")
    assert said.out.index("Play nothing for 5 seconds") < learned < played
