"""The hand-off: nothing altered, nothing out of order, losses counted, nobody made to wait, nothing left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time
from collections import deque
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from bridge.base.errors import UserError
from bridge.base.handoff import HandOff

_SPAWN = get_context("spawn")
_MANY = 20_000
_SHARED = Path("/dev/shm")  # noqa: S108 - looked at, not written to


class AgainstAQueue(RuleBasedStateMachine):
    """The ring behaves like a bounded queue that drops what is new when it is full."""

    @initialize(size=st.integers(1, 17), capacity=st.integers(1, 5))
    def make(self, size: int, capacity: int) -> None:
        """Begin with an empty one."""
        self.ring = HandOff(size, capacity)
        self.model: deque[bytes] = deque()
        self.lost = 0

    @rule(data=st.data())
    def push(self, data: st.DataObject) -> None:
        """A record goes in when there is room, else it is counted."""
        record = data.draw(st.binary(max_size=self.ring.record_bytes))
        cut = data.draw(st.integers(0, len(record)))
        fits = len(self.model) < self.ring.capacity
        assert self.ring.push(record[:cut], memoryview(record)[cut:]) is fits
        if fits:
            self.model.append(record)
        else:
            self.lost += 1

    @rule()
    def pop(self) -> None:
        """The oldest comes out, unaltered; None when there is none."""
        assert self.ring.pop() == (self.model.popleft() if self.model else None)

    @rule()
    def drain(self) -> None:
        """All come out in their order."""
        assert list(self.ring.drain()) == list(self.model)
        self.model.clear()

    @invariant()
    def counts(self) -> None:
        """What waits and what was lost is known at any time."""
        if hasattr(self, "ring"):
            assert (self.ring.waiting, self.ring.lost) == (len(self.model), self.lost)


TestAgainstAQueue = AgainstAQueue.TestCase


def _count_up(ring: HandOff) -> None:
    """Push numbers as fast as it goes, then say that it was all."""
    for number in range(_MANY):
        ring.push(number.to_bytes(8, "little"))
    ring.end()


def test_two_processes_see_one_ring() -> None:
    """Records of another process arrive in order and whole; those that are missing are exactly those counted."""
    ring = HandOff(8, 64)
    process = _SPAWN.Process(target=_count_up, args=(ring,))
    process.start()
    got = []
    while not ring.ended:
        got += [int.from_bytes(record, "little") for record in ring.drain()]
    process.join()
    assert got == sorted(set(got))
    assert len(got) + ring.lost == _MANY
    assert got[:64] == list(range(64))


def test_a_full_ring_keeps_what_is_old_and_says_so_at_once() -> None:
    """With nobody reading, a push comes back at once with False, and the count shows on both sides."""
    ring = HandOff(4, 3)
    assert [ring.push(bytes([n])) for n in range(5)] == [True, True, True, False, False]
    assert ring.lost == 2
    assert list(ring.drain()) == [b"\0", b"\1", b"\2"]


def test_sound_goes_through_sample_by_sample() -> None:
    """float32 samples behind a header come back bit by bit."""
    samples = np.linspace(-1, 1, 512, dtype=np.float32)
    ring = HandOff(8 + samples.nbytes, 2)
    assert ring.push((7).to_bytes(8, "little"), samples.data)
    record = ring.pop()
    assert record is not None
    np.testing.assert_array_equal(np.frombuffer(record, np.float32, offset=8), samples)


def test_the_end_comes_after_the_last_record() -> None:
    """A consumer sees the end only once it has read everything."""
    ring = HandOff(4, 4)
    ring.push(b"last")
    ring.end()
    assert not ring.ended
    assert ring.pop() == b"last"
    assert ring.ended


@pytest.mark.parametrize(("size", "capacity"), [(0, 1), (1, 0), (-1, 4)])
def test_sizes_must_make_sense(size: int, capacity: int) -> None:
    """A ring without room is refused."""
    with pytest.raises(ValueError, match="above 0"):
        HandOff(size, capacity)


def test_a_system_without_shared_memory_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no memory can be shared, the user reads what to look at."""

    def refuse(_self: object, _size: int) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("multiprocessing.heap.Arena.__init__", refuse)
    with pytest.raises(UserError, match=r"Permission denied.*/dev/shm"):
        HandOff(8, 2**22)


@given(st.integers(1, 40))
def test_a_record_that_is_too_long_is_refused(excess: int) -> None:
    """Too long a record is a fault of the program and raises instead of spoiling its neighbour."""
    ring = HandOff(16, 2)
    with pytest.raises(ValueError, match="longer than 16"):
        ring.push(bytes(16 + excess))
    assert ring.waiting == 0


_PAIR = """
    import os, sys, time
    from multiprocessing import get_context
    from bridge.base.handoff import HandOff

    def read(ring, parent):
        while os.getppid() == parent:
            list(ring.drain())
            time.sleep(0.01)

    if __name__ == "__main__":
        ring = HandOff(64, 1000)
        process = get_context("spawn").Process(target=read, args=(ring, os.getpid()), daemon=True)
        process.start()
        print(process.pid, flush=True)
        while True:
            ring.push(b"x")
            time.sleep(0.001)
"""


@pytest.mark.skipif(not _SHARED.is_dir(), reason="this system has no folder that shows shared memory")
@pytest.mark.parametrize("victim", ["producer", "consumer"])
def test_a_kill_of_either_side_leaves_nothing_behind(tmp_path: Path, victim: str) -> None:
    """After SIGKILL of one side, and the end of the other, no shared memory is left and nothing is complained about."""
    script = tmp_path / "pair.py"
    script.write_text(textwrap.dedent(_PAIR), encoding="utf-8")
    before = set(_SHARED.iterdir())
    producer = subprocess.Popen([sys.executable, script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert producer.stdout is not None
    consumer_pid = int(producer.stdout.readline())
    os.kill(producer.pid if victim == "producer" else consumer_pid, signal.SIGKILL)
    if victim == "consumer":
        time.sleep(0.2)
        assert producer.poll() is None
        producer.kill()
    _, complaints = producer.communicate(timeout=20)
    _wait_for_end(consumer_pid)
    assert complaints == ""
    assert {
        path for path in set(_SHARED.iterdir()) - before if path.name.startswith(("pym-", "psm_", "sem.mp"))
    } == set()


def _wait_for_end(pid: int) -> None:
    """Wait until there is no such process any more; fails after 20 seconds."""
    for _ in range(2000):
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.01)
    pytest.fail("the consumer outlived its producer")
