"""A ring of samples between the audio callback, which must never wait, and the one thread that reads.

One producer, one consumer, no lock around the samples, all of it in memory that two processes can share. The producer
always writes, over the oldest samples if it has to; a consumer that was overtaken goes on with what is still there and
counts what it lost. That keeps a stream that stalled near the present, and its sample count true. A pair of sockets
wakes the consumer, and tells each side at once when the other is gone, however it went.
"""

from __future__ import annotations

import select
import socket
import threading
import time
from ctypes import Array, c_char
from multiprocessing import get_context
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import UserError

_CLAIMED, _WRITTEN, _CALLS, _DROPOUTS, _ENDED = range(5)
_HEADER_BYTES = 64
#: Of so many of the last calls it is kept when they were: a power of 2.
_STAMPS = 4096
_STAMP_BYTES = 16
_SAMPLE_BYTES = 4
#: What the producer tells the consumer: samples have come, or whatever else it waits for.
_SAMPLES, _WAKE = b"s", b"w"


class Heard(NamedTuple):
    """What was read: the index of the first sample, the samples, shape (n,), and when the calls that end in them came.

    ``calls_s`` are seconds of the machine's monotonic clock, one for each callback whose last sample is among these.
    """

    start: int
    samples: NDArray[np.float32]
    calls_s: tuple[float, ...]


class RingWriter:
    """The producer's side: hand it to a spawned process as an argument, or use it in a thread of this one."""

    def __init__(self, memory: Array[c_char], capacity: int, bell: socket.socket) -> None:
        self._attach(memory, capacity, bell)

    def _attach(self, memory: Array[c_char], capacity: int, bell: socket.socket) -> None:
        self._memory, self._capacity, self._bell = memory, capacity, bell
        bell.settimeout(0.0)
        self._counters, self._stamps, self._samples = _views(memory)
        # Taking a lock nobody else has orders the writes before it against those after it, on every processor.
        self._fence = threading.Lock()

    def __getstate__(self) -> tuple[Array[c_char], int, socket.socket]:
        """What travels to the other process, which only a spawn can hand on."""
        return self._memory, self._capacity, self._bell

    def __setstate__(self, state: tuple[Array[c_char], int, socket.socket]) -> None:
        self._attach(*state)

    def write(self, samples: NDArray[np.float32], called_s: float = 0.0, *, dropped: bool = False) -> None:
        """Add samples of shape (n,), n at most the capacity, that came at ``called_s``; never waits.

        ``dropped`` says that the sound system lost some before these.
        """
        counters, count = self._counters, len(samples)
        written, calls = counters[_WRITTEN], counters[_CALLS]
        with self._fence:
            counters[_CLAIMED] = written + count
        place = written % self._capacity
        first = min(count, self._capacity - place)
        self._samples[place : place + first] = samples[:first]
        self._samples[: count - first] = samples[first:]
        self._stamps[calls % _STAMPS] = (written + count, called_s)
        counters[_DROPOUTS] += dropped
        with self._fence:
            counters[_CALLS] = calls + 1
            counters[_WRITTEN] = written + count
        self._ring_bell(_SAMPLES)

    def end(self) -> None:
        """Nothing more will come."""
        with self._fence:
            self._counters[_ENDED] = 1
        self.wake()

    def wake(self) -> None:
        """End the consumer's waiting, with or without samples."""
        self._ring_bell(_WAKE)

    def _ring_bell(self, what: bytes) -> None:
        try:
            self._bell.send(what)
        except OSError:
            # Full of rings that were not answered yet, or nobody is there any more: there is nobody to wake.
            return

    def wait_for_end(self) -> None:
        """Wait until the consumer has closed its side or is gone."""
        waiting = select.poll()
        waiting.register(self._bell, select.POLLIN)
        waiting.poll()

    def close(self) -> None:
        """Let go of it; the consumer is told once no process holds this side any more."""
        self._bell.close()


class SampleRing:
    """A preallocated ring of ``capacity`` float32 samples: the consumer's side, and the owner's.

    ``writer`` is the producer's side. ``lost`` is how many samples the consumer never saw. Indices count samples from
    the start of the stream. Close it at the end. Raises UserError when the system shares no memory.
    """

    def __init__(self, capacity: int) -> None:
        self.lost = 0
        self.capacity = capacity
        size = _HEADER_BYTES + _STAMPS * _STAMP_BYTES + capacity * _SAMPLE_BYTES
        try:
            memory = get_context("spawn").RawArray(c_char, size)
        except OSError as error:
            raise UserError(
                f"There is no memory that two processes can share ({error.strerror}). Check that the folder /dev/shm "
                "may be written and has room."
            ) from error
        self._counters, self._stamps, self._samples = _views(memory)
        self._fence = threading.Lock()
        self._bell, other = socket.socketpair()
        self._bell.settimeout(0.0)
        self._waiting = select.poll()
        self._waiting.register(self._bell, select.POLLIN)
        self._read = 0
        self._calls_read = 0
        self._left = False
        self.writer = RingWriter(memory, capacity, other)

    @property
    def ended(self) -> bool:
        """Whether nothing more will come and all of it has been read: the producer has said so, or is gone."""
        return (bool(self._counters[_ENDED]) or self._left) and self._counters[_WRITTEN] == self._read

    @property
    def dropouts(self) -> int:
        """How many calls said that the sound system lost some sound."""
        return int(self._counters[_DROPOUTS])

    @property
    def last_call(self) -> tuple[int, float] | None:
        """The index behind the last call's samples, and when it came, on the monotonic clock; None before the first."""
        calls = self._counters[_CALLS]
        if not calls:
            return None
        end, called_s = self._stamps[(calls - 1) % _STAMPS]
        return int(end), float(called_s)

    def read(self, most: int, timeout_s: float) -> Heard:
        """Take up to ``most`` samples, waiting up to ``timeout_s`` seconds for the first.

        The samples are a copy, n = 0 when none came. After a loss the index is beyond the end of the last one.
        """
        if self._counters[_WRITTEN] == self._read and not self._counters[_ENDED]:
            self.wait(timeout_s)
        while True:
            start = self._read
            with self._fence:
                count = min(most, self._counters[_WRITTEN] - start, self.capacity)
            place = start % self.capacity
            first = min(count, self.capacity - place)
            taken = np.empty(count, np.float32)
            taken[:first] = self._samples[place : place + first]
            taken[first:] = self._samples[: count - first]
            with self._fence:
                claimed = self._counters[_CLAIMED]
            if claimed - start <= self.capacity:
                self._read = start + count
                return Heard(start, taken, self._calls_until(self._read))
            self._skip()

    def close(self) -> None:
        """Let go of it and of the producer's side in this process."""
        self._bell.close()
        self.writer.close()

    def wait(self, timeout_s: float) -> None:
        """Wait until there is something new, or the producer is gone, at most so many seconds."""
        until = time.monotonic() + timeout_s
        while not self._left and self._waiting.poll(max(0.0, until - time.monotonic()) * 1000.0):
            told = self._bell.recv(4096)
            self._left = not told
            # What was told of samples that have been read already is no news.
            if self._counters[_WRITTEN] != self._read or self._counters[_ENDED] or _WAKE in told:
                return

    def _calls_until(self, end: int) -> tuple[float, ...]:
        """When the calls came whose samples end by ``end`` and that were not told yet."""
        calls = self._counters[_CALLS]
        place = max(self._calls_read, calls - _STAMPS // 2)
        found = []
        while place < calls and self._stamps[place % _STAMPS, 0] <= end:
            found.append(float(self._stamps[place % _STAMPS, 1]))
            place += 1
        self._calls_read = place
        return tuple(found)

    def _skip(self) -> None:
        """Go on behind what was overwritten, with a quarter of the ring to spare so as not to be overtaken at once."""
        kept = self.capacity - self.capacity // 4
        target = max(self._read, self._counters[_WRITTEN] - kept)
        self.lost += target - self._read
        self._read = target


def _views(memory: Array[c_char]) -> tuple[memoryview, NDArray[np.float64], NDArray[np.float32]]:
    """The counters, the stamps (end index, seconds) and the samples in the shared memory."""
    view = memoryview(memory).cast("B")
    stamps_end = _HEADER_BYTES + _STAMPS * _STAMP_BYTES
    stamps = np.frombuffer(view[_HEADER_BYTES:stamps_end], np.float64).reshape(_STAMPS, 2)
    return view[:_HEADER_BYTES].cast("q"), stamps, np.frombuffer(view[stamps_end:], np.float32)
