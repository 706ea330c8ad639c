"""Any source at the speed it sounds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.base.clock import ManualClock
from bridge.base.errors import ClosedError
from bridge.capture.paced import Paced
from bridge.capture.player import Breath, perform
from bridge.capture.rehearsal import Rehearsal

PERFORMANCE = perform([Breath(0.0, 0.5)], length_s=0.5)


def test_a_block_is_released_when_its_last_sample_would_have_come() -> None:
    """The clock stands at the end of each block when it is given, to the last one, without drift."""
    clock = ManualClock(100.0)
    with Paced(Rehearsal(PERFORMANCE, block=128), clock) as source:
        count = 0
        while (block := source.read(1.0)) is not None:
            count += len(block.samples)
            assert clock.now() == pytest.approx(100.0 + count / 48000, abs=1e-9)
    assert count == len(PERFORMANCE.samples)


def test_blocks_due_after_a_stall_come_at_once() -> None:
    """After the program was held up for 0.2 s, 0.2 s of blocks come without waiting, then pacing goes on."""
    clock = ManualClock()
    with Paced(Rehearsal(PERFORMANCE, block=480), clock) as source:
        source.read(1.0)
        clock.time += 0.2
        for _ in range(20):
            source.read(1.0)
        assert clock.now() == pytest.approx(0.21)
        source.read(1.0)
        assert clock.now() == pytest.approx(0.22)


@given(timeouts=st.lists(st.floats(0.0, 0.01), min_size=1, max_size=30))
def test_no_timeout_loses_or_repeats_a_sample(timeouts: list[float]) -> None:
    """Reads that give up early give no samples and cost none; none waits longer than it was told to."""
    clock = ManualClock()
    whole: list[NDArray[np.float32]] = []
    count = 0
    with Paced(Rehearsal(PERFORMANCE, block=128), clock) as source:
        for timeout_s in [*timeouts, *[0.01] * 200]:
            before = clock.now()
            block = source.read(timeout_s)
            if block is None:
                break
            assert clock.now() - before <= timeout_s + 1e-12
            assert block.start == count
            whole.append(block.samples)
            count += len(block.samples)
    np.testing.assert_array_equal(np.concatenate(whole), PERFORMANCE.samples)


def test_the_end_and_closing_are_those_of_the_source() -> None:
    """The stream ends when the source does, and a closed one cannot be read."""
    source = Paced(Rehearsal(PERFORMANCE, block=24000), ManualClock())
    assert (source.name, source.rate) == ("rehearsal", 48000)
    with source:
        assert source.read(1.0) is not None
        assert source.read(1.0) is None
        assert source.read(1.0) is None
    source.close()
    with pytest.raises(ClosedError):
        source.read(1.0)
