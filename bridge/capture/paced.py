"""A source held back to the speed at which it sounds."""

from __future__ import annotations

from bridge.base.clock import WallClock
from bridge.base.events import AudioBlock
from bridge.capture.source import Source, no_sound_yet


class Paced(Source):
    """Gives each block of ``source`` when its last sample would have come from a sound card.

    The time counts from the first read, by samples, so nothing drifts; after a stall the blocks that are due come at
    once.
    """

    live = True

    def __init__(self, source: Source, clock: WallClock) -> None:
        self.name = source.name
        self.rate = source.rate
        self._source = source
        self._clock = clock
        self._began: float | None = None
        self._held: AudioBlock | None = None

    @property
    def lost(self) -> int:
        """What the source lost."""
        return self._source.lost

    def open(self) -> None:
        """Open the source; the time starts with the first read."""
        self._source.open()
        self.rate = self._source.rate
        self._began = None
        self._held = None

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give the next block when it is due, or no samples when it is not due within ``timeout_s``."""
        if self._began is None:
            self._began = self._clock.now()
        block = self._held if self._held is not None else self._source.read(timeout_s)
        if block is None:
            return None
        wait_s = self._began + (block.start + len(block.samples)) / block.rate - self._clock.now()
        if wait_s > timeout_s:
            self._held = block
            self._clock.sleep(timeout_s)
            return no_sound_yet(block.start, block.rate)
        self._held = None
        self._clock.sleep(wait_s)
        return block

    def close(self) -> None:
        """Close the source."""
        self._held = None
        self._source.close()
