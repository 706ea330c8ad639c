"""The soak, in short: the same code as ``tests/soak/run``, seconds in place of hours."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

from parts import require
from soak.file_chain import soak_file_chain
from soak.jackd import PERIOD, soak_jackd
from soak.main import FLAT_MB, file_table, jackd_table
from sounds.rehearsed import RATE

#: In so short a run caches still fill after the warm-up; what leaks with every block is many times this.
_STILL_WARMING_MB = 20.0


@pytest.mark.slow
def test_minutes_of_sound_leave_the_engine_as_it_was(tmp_path: Path) -> None:
    """Some minutes of rehearsals: memory flat, stream time that of the samples, every note ended, nothing failed.

    In a process of its own, as ``tests/soak/run`` is: this one holds what other tests have left, which comes and goes.
    """
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as apart:
        soak = apart.submit(soak_file_chain, 220.0, tmp_path).result()
    assert soak.drift_s == pytest.approx(0.0, abs=1e-9)
    assert soak.growth.grown_mb("engine") < FLAT_MB
    assert soak.broken == 0
    assert soak.stuck == 0
    assert soak.failures == ()
    # The last rehearsal is broken off where the time is up; a chord or a breath may be a note more.
    assert 0.8 * soak.played - 79 <= soak.notes <= 1.25 * soak.played
    assert "| notes left sounding | 0 |" in file_table(soak)


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
