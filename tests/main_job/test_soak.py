"""The soak through jackd, in short: the same code as ``tests/soak/run``, seconds in place of half an hour."""

from __future__ import annotations

from pathlib import Path

import pytest

from parts import require
from soak.jackd import PERIOD, soak_jackd
from soak.main import jackd_table
from sounds.rehearsed import RATE

#: In so short a run caches still fill after the warm-up; what leaks with every block is many times this.
_STILL_WARMING_MB = 20.0


@pytest.mark.slow
def test_half_a_minute_through_jackd_runs_true(tmp_path: Path) -> None:
    """Stream time stays with JACK's frames, every note comes by MIDI and by OSC, none is left, memory does not run."""
    require("portaudio")
    soak = soak_jackd(25.0, tmp_path)
    assert soak.status == 0
    assert soak.stuck == 0
    assert soak.notes > 20
    assert set(soak.growth.names) == {"engine", "sound card", "take writer", "meter"}
    for name in soak.growth.names:
        assert soak.growth.grown_mb(name) < _STILL_WARMING_MB, name
    assert f"| notes sent | {soak.notes} |" in jackd_table(soak)
    # No note is lost on the way to one of them without a word.
    assert soak.unlike == 0 or soak.outages > 0
    # Where the sound server is late it may leave out a period for one program and not for the other.
    assert abs(soak.drift_ms) < 20.0 + 1000.0 * soak.xruns * PERIOD / RATE
