"""A ring of samples between the audio callback, which must never wait, and the one thread that reads.

One producer, one consumer, no lock around the samples. The producer always writes, over the oldest samples if it has
to; a consumer that was overtaken goes on with what is still there and counts what it lost. That keeps a stream that
stalled near the present, and its sample count true.
"""

from __future__ import annotations

import threading

import numpy as np
from numpy.typing import NDArray


class SampleRing:
    """A preallocated ring of ``capacity`` float32 samples.

    ``lost`` is how many samples the consumer never saw. Indices count samples from the start of the stream.
    """

    def __init__(self, capacity: int) -> None:
        self.lost = 0
        self._samples = np.zeros(capacity, np.float32)
        self._capacity = capacity
        self._claimed = 0  # written by the producer alone: up to here samples are there or being written
        self._written = 0  # written by the producer alone: up to here samples are there
        self._read = 0  # written by the consumer alone
        # A lock as a binary semaphore: the producer releases it, the consumer takes it. threading.Event would make the
        # callback take a lock that the consumer may be holding while it is not running.
        self._news = threading.Lock()
        self._news.acquire()

    @property
    def capacity(self) -> int:
        """How many samples can wait to be read."""
        return self._capacity

    def write(self, samples: NDArray[np.float32]) -> None:
        """Add samples of shape (n,), n at most the capacity; called by the producer, never waits."""
        count = len(samples)
        self._claimed = self._written + count
        place = self._written % self._capacity
        first = min(count, self._capacity - place)
        self._samples[place : place + first] = samples[:first]
        self._samples[: count - first] = samples[first:]
        self._written = self._claimed
        self.wake()

    def wake(self) -> None:
        """End the consumer's waiting, with or without samples; called by the producer."""
        if self._news.locked():
            self._news.release()

    def read(self, most: int, timeout_s: float) -> tuple[int, NDArray[np.float32]]:
        """Take up to ``most`` samples, waiting up to ``timeout_s`` seconds for the first; called by the consumer.

        Returns the index of the first and a copy of shape (n,), n = 0 when none came. After a loss the index is beyond
        the end of the last one.
        """
        self._news.acquire(blocking=False)  # old news: what it told of is seen by the next line
        if self._written == self._read:
            self._news.acquire(timeout=max(0.0, timeout_s))
        while True:
            start = self._read
            count = min(most, self._written - start, self._capacity)
            place = start % self._capacity
            first = min(count, self._capacity - place)
            taken = np.empty(count, np.float32)
            taken[:first] = self._samples[place : place + first]
            taken[first:] = self._samples[: count - first]
            if self._claimed - start <= self._capacity:
                self._read = start + count
                return start, taken
            self._skip()

    def _skip(self) -> None:
        """Go on behind what was overwritten, with a quarter of the ring to spare so as not to be overtaken at once."""
        kept = self._capacity - self._capacity // 4
        target = max(self._read, self._written - kept)
        self.lost += target - self._read
        self._read = target
