"""Live through jackd, timed in JACK frames: every note there, in order, none left over, and answered without delay.

The figures themselves are those of ``bench.live``; a machine that runs other tests meanwhile is given far more time.
Source of the clock: JACK's frame counter is the sound card's.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bench.live_measure import PERIOD, LiveTimed, measure
from parts import require
from sounds.known import KnownSound
from sounds.rehearsed import RATE, rehearsed

PASSAGES = ("released third", "scoops", "vibrato", "fast bends")
GENEROUS_MS = 60.0


@pytest.fixture(scope="module")
def sound() -> KnownSound:
    """Bends of every kind, some seconds of them."""
    return rehearsed("C", 1, PASSAGES)


@pytest.fixture(scope="module")
def timed(sound: KnownSound, tmp_path_factory: pytest.TempPathFactory) -> LiveTimed:
    """One performance, with a take being written."""
    require("portaudio")
    return measure(sound, tmp_path_factory.mktemp("timed"), take=True)


def test_live_it_hears_what_the_chain_alone_hears(timed: LiveTimed) -> None:
    """The same notes in the same order, each within 150 ms of its turn, and none is left sounding.

    Where the sound server of a busy machine was late, sound is lost, and at each such place a note may be another one.
    """
    assert timed.stuck == 0
    assert timed.alone >= 10
    assert timed.unlike <= min(2 * timed.xruns, timed.alone // 2)


def test_it_answers_soon(timed: LiveTimed, record_property: Callable[[str, object], None]) -> None:
    """Half of the notes are on the wire 60 ms after their attack, half of the bends 60 ms after they were played."""
    for name in ("extra", "onset", "bend"):
        values = getattr(timed, name)
        record_property(f"{name}_ms_p50", float(np.median(values)))
        record_property(f"{name}_ms_p99", float(np.quantile(values, 0.99)))
    assert len(timed.onset) >= 10
    assert len(timed.bend) >= 3
    assert np.median(timed.onset) < GENEROUS_MS
    assert np.median(timed.bend) < GENEROUS_MS
    assert np.median(timed.extra) < GENEROUS_MS


def test_no_note_is_answered_before_it_was_played(timed: LiveTimed) -> None:
    """What is measured is possible: nothing comes before the chain alone could know it, to the period of the stamp.

    Where sound was lost a note may begin a few periods before it does with all of it.
    """
    assert np.quantile(timed.extra, 0.1) > -1000.0 * PERIOD / RATE - 0.01
