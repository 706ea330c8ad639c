"""What is heard while a sound is played, as a source; and a part of another source, counted from its own beginning."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bridge.base.errors import UserError
from bridge.base.events import AudioBlock
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.source import Source, no_sound_yet, require_open

#: A sound card that gives nothing for this long will not, in seconds; and how often it is looked at.
_NOTHING_S, _LOOK_S = 5.0, 0.005


class PlayedAlong(Source):
    """What the running ``loudspeaker`` hears while it plays ``sound`` (n,), from its first sample to its last."""

    live = True

    def __init__(self, loudspeaker: Loudspeaker, sound: NDArray[np.float32]) -> None:
        self.name = loudspeaker.name
        self.rate = loudspeaker.rate
        self._loudspeaker = loudspeaker
        self._sound = sound
        self._next = 0
        self._open = False
        self._came_s = 0.0

    def open(self) -> None:
        """Begin to play. Raises ClosedError when the loudspeaker does not run."""
        self._loudspeaker.begin(self._sound)
        self._next, self._came_s, self._open = 0, time.monotonic(), True

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give what came since, waiting for it; None after the sound's end. Raises UserError when the card stops."""
        start = self._next
        require_open(self.name, is_open=self._open)
        if start >= len(self._sound):
            return None
        until_s = time.monotonic() + timeout_s
        while not len(samples := self._loudspeaker.heard_from(start)):
            if time.monotonic() - self._came_s > _NOTHING_S:
                raise UserError(f"The sound output {self.name} stopped. Check its plug and try again.")
            if time.monotonic() >= until_s:
                return no_sound_yet(start, self.rate)
            time.sleep(_LOOK_S)
        self._next, self._came_s = start + len(samples), time.monotonic()
        return AudioBlock(start, self.rate, np.nan_to_num(samples))

    def close(self) -> None:
        """Hear no more; what is left of the sound is played to nobody."""
        self._open = False


class Excerpt(Source):
    """``length_s`` seconds of the open ``source``, counted from the first block that comes; it stays open after it."""

    live = True

    def __init__(self, source: Source, length_s: float) -> None:
        self.name = source.name
        self.rate = source.rate
        self._source = source
        self._length = round(length_s * source.rate)
        self._first: int | None = None
        self._next = 0

    def open(self) -> None:
        """Let go of what waits, so that it begins now."""
        while (waiting := self._source.read(0.0)) is not None and len(waiting.samples):
            pass

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Give the next block of the source; None at the end of either."""
        if self._next >= self._length:
            return None
        block = self._source.read(timeout_s)
        if block is None or not len(block.samples):
            return block
        if self._first is None:
            self._first = block.start
        start = block.start - self._first
        self._next = start + len(block.samples)
        return replace(block, start=start)

    def close(self) -> None:
        """Nothing is held."""
