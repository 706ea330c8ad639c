"""``reedwire devices`` and ``panic`` on a real MIDI system: a JACK server of our own and a program that hears MIDI."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from jack_server import jack_server
from parts import running

_PLAYER = Path(__file__).resolve().parents[1] / "main_job" / "jack_player.py"


@pytest.mark.slow
def test_a_port_is_listed_and_every_note_on_it_is_ended(tmp_path: Path) -> None:
    """The port appears among the devices; panic reaches it with every message it should, none lost on the way.

    Bytes from MIDI 1.0 (4.2.1): Bn 7B 00 All Notes Off, Bn 78 00 All Sound Off, En 00 40 bend centre, 8n Note Off.
    """
    np.save(tmp_path / "silence.npy", np.zeros(128, np.float32))
    with jack_server(patient=True) as env:
        player = [sys.executable, str(_PLAYER), str(tmp_path / "silence.npy")]
        with running(player, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as listening:
            assert listening.stdout is not None
            assert listening.stdin is not None
            assert json.loads(listening.stdout.readline())["is"] == "ready"
            assert "player:midi" in _reedwire("devices", env)
            assert "player:midi: quiet (2096 messages)." in _reedwire("panic", env)
            listening.stdin.write("end\n")
            listening.stdin.flush()
            heard = [line["data"] for line in map(json.loads, listening.stdout) if line["is"] == "midi"]
    expected = [
        f"{status:x}{channel:x}{data}"
        for channel in range(16)
        for status, data in ((0xB, "7b00"), (0xB, "7800"), (0xE, "0040"))
    ]
    assert heard[:48] == expected
    assert [data[:4] for data in heard[48:]] == [
        f"8{channel:x}{note:02x}" for channel in range(16) for note in range(128)
    ]


def _reedwire(command: str, env: dict[str, str]) -> str:
    """What the command prints; it must end well."""
    line = [sys.executable, "-m", "bridge.cli.main", command]
    return subprocess.run(line, env=env, check=True, capture_output=True, text=True, timeout=60).stdout
