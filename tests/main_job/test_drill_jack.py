"""``reedwire drill`` on a silent sound card whose output is led back to its input a known time later.

JACK hands what a client plays on to what it hears one period later, and PortAudio keeps one block of its own: see
``test_check_jack``.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from jack_server import jack_server
from main_job.command import reedwire
from main_job.test_check_jack import PERIOD, RATE, room
from parts import require

DELAY = 4800


def test_it_counts_in_measures_the_delay_and_hears_that_nobody_plays(tmp_path: Path) -> None:
    """Clicks and chirps that come back play no third; the beat is shown; nothing is kept; with and without sound."""
    require("portaudio")
    words = ("drill", "blue", "--rounds", "1", "--tempo", "200", "--out", "kept.jsonl")
    with jack_server(period=PERIOD, patient=True) as env, room(env, delay=DELAY, gain_db=-12.0, noise=1e-4):
        said = reedwire(*words, cwd=tmp_path, env=env)
        silent = reedwire(*words, "--silent", cwd=tmp_path, env=env)
    assert (said.status, said.accidents) == (0, []), said.err
    found = re.search(r"It comes back (\d+) ms late", said.out)
    assert found is not None, said.out
    assert float(found[1]) == pytest.approx(1000.0 * (DELAY + 2 * PERIOD) / RATE, abs=2.0 * 1000.0 * PERIOD / RATE)
    assert "Begin quietly or with headphones" in said.out
    for each in (said, silent):
        assert "\n1 of 1: 1 2 3 4 | 1 2 3 4 1 2 3 4\n" in each.out
        assert "Next: Play it once more, nearer to the microphone: no third was heard." in each.out
    assert (silent.status, silent.accidents) == (0, []), silent.err
    assert "Silent: the beat is on the screen alone" in silent.out
    assert "chirps" not in silent.out
    assert not (tmp_path / "kept.jsonl").exists()
