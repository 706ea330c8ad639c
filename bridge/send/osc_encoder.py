"""Events -> OSC messages over time: what goes at once, what is thinned, when to say hello. Pure."""

from __future__ import annotations

import math

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.send import osc_messages as osc
from bridge.send.osc_messages import OscMessage
from bridge.send.pitch import SentPitch

HELLO_EVERY_S = 5.0


class OscEncoder:
    """Thins ``inflect`` and ``pitch`` to one each in an interval; onsets, offs and degrees never wait.

    Intervals are counted by when events are ready, since a note is dated back to its attack.
    The last ``inflect`` of a note that sounds always goes out. Events of a note that does not sound give nothing, and
    a note that begins while another sounds ends that one first. An event that cannot be encoded changes nothing, so
    that what sounds is still to be ended.
    """

    def __init__(self, interval_s: float, pitch: SentPitch, program_version: str) -> None:
        self._interval_s = interval_s
        self._pitch = pitch
        self._version = program_version
        self._note_id: int | None = None
        self._degree = ""
        self._waiting: Inflection | None = None
        self._moving = False
        self._time_s = 0.0
        self._greeted_s = self._point_s = self._inflect_s = -math.inf

    def opening(self) -> list[OscMessage]:
        """Hello, at the time of the last event, 0 at first; call it also after each outage."""
        greeting = osc.hello(self._time_s, self._version)
        self._greeted_s = self._time_s
        return [greeting]

    def encode(self, event: Event) -> list[OscMessage]:
        """The messages of one event, in order."""
        before = vars(self).copy()
        try:
            return [*self._greet(event), *self._of(event)]
        except BaseException:
            vars(self).update(before)
            raise

    def release(self) -> list[OscMessage]:
        """The off of what is known to sound."""
        if self._note_id is None:
            return []
        ended = osc.note_off(NoteOff(self._note_id, self._time_s, self._time_s))
        self._note_id = self._waiting = None
        return [ended]

    def _greet(self, event: Event) -> list[OscMessage]:
        # A stream begun again counts from 0: the next hello is then due at once, not hours later.
        due = not 0.0 <= event.ready_s - self._greeted_s < HELLO_EVERY_S
        self._time_s = event.time_s
        if not due:
            return []
        self._greeted_s = event.ready_s
        return [osc.hello(event.time_s, self._version)]

    def _of(self, event: Event) -> list[OscMessage]:
        match event:
            case PitchPoint():
                return self._heard(event)
            case NoteOn():
                ended = self.release()
                self._note_id, self._degree = event.note_id, event.degree
                return [*ended, osc.note_on(event, self._pitch), *self._move(event.inflection, event.ready_s)]
            case Inflection() if event.note_id == self._note_id:
                return self._move(event, event.ready_s)
            case NoteOff() if event.note_id == self._note_id:
                return self.release()
            case _:
                return []

    def _move(self, event: Inflection, ready_s: float) -> list[OscMessage]:
        moved = []
        if event.degree != self._degree:
            self._degree = event.degree
            moved.append(osc.degree(event))
        self._waiting = event
        self._moving = True
        return moved + self._flush(ready_s)

    def _heard(self, event: PitchPoint) -> list[OscMessage]:
        # A point opens its hop: while an inflection follows each, a waiting one would go out a hop old.
        moving, self._moving = self._moving, False
        messages = [] if moving else self._flush(event.ready_s)
        if self._due(event.ready_s - self._point_s):
            self._point_s = event.ready_s
            messages.append(osc.pitch_point(event))
        return messages

    def _flush(self, ready_s: float) -> list[OscMessage]:
        if self._waiting is None or not self._due(ready_s - self._inflect_s):
            return []
        event, self._waiting = self._waiting, None
        self._inflect_s = ready_s
        return [osc.inflect(event, self._pitch)]

    def _due(self, passed_s: float) -> bool:
        """Whether the interval is over; a stream begun again (time gone back) waits for nothing."""
        return passed_s < 0.0 or passed_s >= self._interval_s
