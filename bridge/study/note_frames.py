"""The frames of single notes out of a stream of events: what a note's marks are measured from."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import Event, NoteOff, NoteOn, PitchPoint

Floats = NDArray[np.float64]

#: A note is known only some time after its attack; so much of what came before is kept meanwhile, in seconds.
_MEMORY_S = 1.0
#: More than this of one note tells nothing new, in seconds.
_LONGEST_S = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class NoteFrames:
    """The frames of one note, all arrays of shape (n,), in the order of time.

    ``start_s`` and ``end_s`` are when the note began and ended; ``time_s`` (s) is on their clock. ``cents`` above the
    root, in any octave, is NaN where there was no pitch; ``level_db`` is dBFS, ``clean`` 0..1.
    """

    start_s: float
    end_s: float
    time_s: Floats
    cents: Floats
    level_db: Floats
    clean: Floats


class NoteListener:
    """Takes the events of one stream in order and gives the frames of each note when it has ended."""

    def __init__(self) -> None:
        self._points: deque[PitchPoint] = deque()
        self._on: NoteOn | None = None

    @property
    def sounding(self) -> bool:
        """Whether a note sounds now."""
        return self._on is not None

    def take(self, event: Event) -> NoteFrames | None:
        """Take the next event; the note that ends with it, if any."""
        if isinstance(event, PitchPoint):
            since_s = event.time_s - _MEMORY_S if self._on is None else self._on.time_s
            while self._points and self._points[0].time_s < since_s:
                self._points.popleft()
            if self._on is None or event.time_s - self._on.time_s <= _LONGEST_S:
                self._points.append(event)
        elif isinstance(event, NoteOn):
            ended = self._end(event.time_s)
            self._on = event
            return ended
        elif isinstance(event, NoteOff) and self._on is not None and event.note_id == self._on.note_id:
            return self._end(event.time_s)
        return None

    def _end(self, end_s: float) -> NoteFrames | None:
        """The note that sounds, ended at ``end_s``; None when none sounds."""
        on, self._on = self._on, None
        if on is None:
            return None
        points = [point for point in self._points if on.time_s <= point.time_s <= end_s]
        return NoteFrames(
            on.time_s,
            end_s,
            _column(point.time_s for point in points),
            _column(point.cents if point.hz > 0.0 else np.nan for point in points),
            _column(point.level_db for point in points),
            _column(point.clean for point in points),
        )


def heard_notes(events: Iterable[Event]) -> list[NoteFrames]:
    """The frames of every note of a whole stream that has both a beginning and an end."""
    listener = NoteListener()
    return [frames for frames in map(listener.take, events) if frames is not None]


def _column(values: Iterable[float]) -> Floats:
    return np.fromiter(values, np.float64)
