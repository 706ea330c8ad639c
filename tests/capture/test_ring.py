"""The ring between audio callback and worker: nothing wrong, nothing twice, and every loss counted."""

from __future__ import annotations

import threading

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from bridge.capture.ring import SampleRing

STEPS = st.lists(st.tuples(st.sampled_from(["write", "read"]), st.integers(1, 40)), max_size=80)


def counted(start: int, count: int) -> np.ndarray:
    """Samples that say which they are (exact in float32 up to 2**24)."""
    return np.arange(start, start + count, dtype=np.float32)


@given(capacity=st.integers(40, 100), steps=STEPS)
def test_every_sample_is_read_once_in_place_or_counted_as_lost(capacity: int, steps: list[tuple[str, int]]) -> None:
    """Whatever the order of writes and reads, read plus lost is written, and each sample carries its own index."""
    ring = SampleRing(capacity)
    written = seen = end = 0
    for what, amount in [*steps, *[("read", 40)] * 4]:
        if what == "write":
            ring.writer.write(counted(written, amount))
            written += amount
            continue
        lost_before = ring.lost
        start, samples, _ = ring.read(amount, 0.0)
        assert len(samples) <= amount
        assert start - end == ring.lost - lost_before
        np.testing.assert_array_equal(samples, counted(start, len(samples)))
        seen += len(samples)
        end = start + len(samples)
    ring.close()
    assert end == written
    assert seen + ring.lost == written


@given(capacity=st.integers(40, 100), steps=STEPS)
def test_nothing_is_lost_while_the_reader_keeps_up(capacity: int, steps: list[tuple[str, int]]) -> None:
    """A reader that is never more than a ring behind loses nothing."""
    ring = SampleRing(capacity)
    written = end = 0
    for what, amount in steps:
        if what == "write" and written - end + amount <= capacity:
            ring.writer.write(counted(written, amount))
            written += amount
        elif what == "read":
            start, samples, _ = ring.read(amount, 0.0)
            end = start + len(samples)
    ring.close()
    assert ring.lost == 0


def test_a_lapped_reader_goes_on_near_the_present_and_keeps_the_count() -> None:
    """After an overflow the index jumps over exactly the samples that are counted as lost."""
    ring = SampleRing(100)
    for block in range(50):
        ring.writer.write(counted(block * 10, 10))
    start, samples, _ = ring.read(1000, 0.0)
    assert start == ring.lost == 425
    np.testing.assert_array_equal(samples, counted(425, 75))
    ring.close()


def test_reader_and_writer_in_two_threads_agree() -> None:
    """With a writer running free the reader sees only whole, ordered samples and an exact count of the rest."""
    ring = SampleRing(4096)
    blocks, size = 20_000, 128

    def write() -> None:
        for block in range(blocks):
            ring.writer.write(counted(block * size % 2**23, size))

    writer = threading.Thread(target=write)
    writer.start()
    seen = end = 0
    while end < blocks * size:
        start, samples, _ = ring.read(1000, 1.0)
        np.testing.assert_array_equal(samples, np.arange(start, start + len(samples)) % 2**23)
        assert start >= end
        seen += len(samples)
        end = start + len(samples)
    writer.join()
    ring.close()
    assert seen + ring.lost == blocks * size


def test_a_waiting_reader_is_woken_by_a_write() -> None:
    """A reader that would wait for an hour returns as soon as samples come."""
    ring = SampleRing(100)
    got: list[int] = []
    reader = threading.Thread(target=lambda: got.append(len(ring.read(100, 3600.0)[1])), daemon=True)
    reader.start()
    ring.writer.write(counted(0, 7))
    reader.join(60.0)
    assert got == [7]
    ring.close()


def test_old_news_does_not_end_the_next_wait() -> None:
    """A write that was already read is not taken for new samples: the next wait is for the next write."""
    ring = SampleRing(100)
    ring.writer.write(counted(0, 10))
    ring.writer.write(counted(10, 10))
    assert len(ring.read(100, 0.0)[1]) == 20
    got: list[int] = []
    reader = threading.Thread(target=lambda: got.append(ring.read(100, 3600.0)[0]), daemon=True)
    reader.start()
    reader.join(0.2)
    assert got == []
    ring.writer.wake()
    reader.join(60.0)
    assert got == [20]
    ring.close()
