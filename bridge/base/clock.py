"""The two clocks: samples count the stream, and a wall clock paces what is not paced by a sound card."""

from __future__ import annotations

import time
from typing import Protocol


class WallClock(Protocol):
    """A clock that can be waited on; tests set their own."""

    def now(self) -> float:
        """Seconds from any fixed instant, never going back."""
        ...

    def sleep(self, seconds: float) -> None:
        """Wait that long; nothing when not above 0."""
        ...


class SystemClock:
    """The machine's monotonic clock."""

    def now(self) -> float:
        """Monotonic seconds."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """Wait that long."""
        if seconds > 0.0:
            time.sleep(seconds)


class ManualClock:
    """A clock that only moves when slept on or set: time for tests."""

    def __init__(self, start: float = 0.0) -> None:
        self.time = start

    def now(self) -> float:
        """The time last set or slept to."""
        return self.time

    def sleep(self, seconds: float) -> None:
        """Move on without waiting."""
        self.time += max(0.0, seconds)
