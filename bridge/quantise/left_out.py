"""What of a stream sounded but was not played: put together span by span."""

from __future__ import annotations

from collections import deque
from typing import Literal, NamedTuple

from bridge.base.events import PitchFrame
from bridge.base.units import SILENCE_DB

#: Spans left out are joined over rests up to this long, and kept from this length on, seconds.
_REST_S, _SHORTEST_S = 0.3, 0.03
#: A span with so much pitch, seconds and as a part of it, is a voice.
_VOICE_S, _VOICE_PART = 0.06, 0.2


class LeftOut(NamedTuple):
    """A span of the stream, in seconds, that sounded but was not played: a voice, or a noise with hardly any pitch."""

    start_s: float
    end_s: float
    what: Literal["voice", "noise"]


class Spans:
    """Puts together what is left out, and keeps the last ``most`` spans, None for all."""

    def __init__(self, most: int | None) -> None:
        self.done: deque[LeftOut] = deque(maxlen=most)
        self._start_s: float | None = None
        self._last_s = self._pitch_s = 0.0
        self._ringing = False

    def hear(self, frame: PitchFrame, pitch_s: float) -> None:
        """A frame in which no reed sounds; ``pitch_s`` is how long it has a pitch."""
        if frame.level_db <= SILENCE_DB:
            self._ringing = False
            if frame.time_s - self._last_s > _REST_S:
                self._close()
            return
        if self._ringing and not pitch_s:
            return  # what a note leaves behind in the room
        self._ringing = False
        if self._start_s is None:
            self._start_s, self._pitch_s = frame.time_s, 0.0
        self._last_s = frame.time_s
        self._pitch_s += pitch_s

    def reed(self, begun_s: float) -> None:
        """A reed sounds, since ``begun_s``."""
        self._last_s = min(self._last_s, begun_s)
        self._close()
        self._ringing = True

    def _close(self) -> None:
        if self._start_s is not None and self._last_s - self._start_s >= _SHORTEST_S:
            length = self._last_s - self._start_s
            voice = self._pitch_s >= max(_VOICE_S, _VOICE_PART * length)
            self.done.append(LeftOut(self._start_s, self._last_s, "voice" if voice else "noise"))
        self._start_s = None
