"""Octaves in a recording: of two reeds an octave apart the upper one speaks first, and belongs to the lower note.

Live nothing can be done about it, since the lower reed does not sound yet when the note is due. Who can wait hears the
lower one come in and gives the note its pitch from the beginning on.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, replace

from bridge.base.events import PitchFrame

#: The upper reed sounds alone for less than this, seconds (up to 27 ms on sampled octaves, measured). Nobody plays a
#: note so short and then its lower octave without a stroke of the tongue: the two lie three holes apart or more.
_ALONE_S = 0.045
#: Between the two the pitch may be lost for so long, and the lower one has come in when it has been heard this long.
_LOST_S, _IN_S = 0.015, 0.02
#: Nothing can change any more after so long, seconds.
_LOOK_AHEAD_S = _ALONE_S + _LOST_S + _IN_S
#: Pitches no farther apart than this are one, as a logarithm to base 2 (60 cents).
_SAME = 0.05


@dataclass(slots=True)
class _Run:
    """Frames of one pitch: when it began and was heard last, its pitch then in Hz, and whether a stroke began it."""

    begun_s: float
    heard_s: float
    hz: float
    struck: bool


class OctavesAhead:
    """Gives octaves their lower pitch from the beginning on. Frames come in stream order; one stream each."""

    def __init__(self) -> None:
        self._waiting: deque[PitchFrame] = deque()
        self._run = self._before = _Run(-math.inf, -math.inf, 0.0, struck=True)
        self._is_octave = False

    def step(self, frame: PitchFrame) -> list[PitchFrame]:
        """Take a frame; the frames, in order, that are settled by now: those 80 ms older than this one."""
        if 0.0 < frame.hz < math.inf:
            self._hear(frame)
        self._waiting.append(frame)
        return self._give(frame.ready_s - _LOOK_AHEAD_S)

    def finish(self) -> list[PitchFrame]:
        """The frames that still wait, when the recording has ended."""
        return self._give(math.inf)

    def _hear(self, frame: PitchFrame) -> None:
        run, now_s = self._run, frame.ready_s
        if frame.attack or now_s - run.heard_s > _LOST_S or not _same(frame.hz, run.hz):
            self._before, self._run = run, _Run(now_s, now_s, frame.hz, frame.attack)
            self._is_octave = self._follows_its_upper_reed()
            return
        run.heard_s, run.hz = now_s, frame.hz
        if self._is_octave and now_s - run.begun_s >= _IN_S:
            self._is_octave = False
            self._lower(self._before)

    def _follows_its_upper_reed(self) -> bool:
        """Whether what sounds now began an octave under a pitch that was there for a moment only."""
        upper, lower = self._before, self._run
        soon = lower.begun_s - upper.heard_s <= _LOST_S and lower.begun_s - upper.begun_s <= _ALONE_S
        return soon and not lower.struck and _same(upper.hz, 2.0 * lower.hz)

    def _lower(self, upper: _Run) -> None:
        """Give the frames of the ``upper`` reed the pitch of the lower one."""
        for place, frame in enumerate(self._waiting):
            if upper.begun_s <= frame.ready_s <= upper.heard_s and frame.hz > 0.0:
                self._waiting[place] = replace(frame, hz=0.5 * frame.hz)

    def _give(self, until_s: float) -> list[PitchFrame]:
        given = []
        while self._waiting and self._waiting[0].ready_s <= until_s:
            given.append(self._waiting.popleft())
        return given


def _same(first_hz: float, second_hz: float) -> bool:
    return abs(first_hz - second_hz) < _SAME * second_hz
