"""The soak of hours of sound, in short: the same code as ``tests/soak/run``, minutes in place of hours."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pytest

from soak.file_chain import soak_file_chain
from soak.main import FLAT_MB, file_table


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
