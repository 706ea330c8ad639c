"""The same delay for every note: what was sure early waits, so that the player's timing comes out as it went in.

A player gets used to a delay that is always the same, and is thrown by one that changes (10 ms steady was rated better
than 10 +/- 3 ms: Jack and others, 2018). A reed that speaks slowly is sure later than one that speaks at once; held
back to one delay, both sound as far apart as they were played.

The wait mends octaves too: their upper reed speaks first, and no note of its own is made of it.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from bridge.base.events import Event, NoteOff, NoteOn, PitchPoint

_OCTAVE = 12
#: The lower reed of an octave takes over from the upper one within so long, seconds.
_AT_ONCE_S = 0.015


class SteadyDelay:
    """Holds events until ``delay_s`` after the instant they describe; what is sure later than that goes at once."""

    def __init__(self, delay_s: float) -> None:
        self._delay_s = delay_s
        self._held: deque[Event] = deque()

    def hold(self, event: Event) -> None:
        """Take an event, in the order in which the quantiser gives them."""
        self._held.append(self._from_its_upper_reed(event) if isinstance(event, NoteOn) else event)

    def due(self, now_s: float) -> list[Event]:
        """What must go out by the stream time ``now_s``, in order; its ``ready_s`` becomes that time.

        An event never overtakes one before it: a note that is late holds back what follows it.
        """
        events: list[Event] = []
        while self._held and self._held[0].time_s + self._delay_s <= now_s:
            event = self._held.popleft()
            events.append(replace(event, ready_s=max(event.ready_s, now_s)))
        return events

    def _from_its_upper_reed(self, note: NoteOn) -> NoteOn:
        """The note, begun where its octave above did, in place of it, if that one has just ended and still waits."""
        last_off = next((event for event in reversed(self._held) if isinstance(event, NoteOff)), None)
        if last_off is None or note.time_s - last_off.time_s > _AT_ONCE_S:
            return note
        of_upper = [event for event in self._held if _is_of(last_off, event)]
        upper = of_upper[0]
        if not isinstance(upper, NoteOn) or upper.midi_note != note.midi_note + _OCTAVE:
            return note
        for event in of_upper:
            self._held.remove(event)
        return replace(note, time_s=upper.time_s)

    def rest(self, now_s: float) -> list[Event]:
        """What must still go out when all has to end now: the rest of notes already sent, at ``now_s``.

        A note that was still held is never begun, since it would be only a blip.
        """
        held = list(self._held)
        self._held.clear()
        unsent = {event.note_id for event in held if isinstance(event, NoteOn)}
        return [
            replace(event, ready_s=max(event.ready_s, now_s))
            for event in held
            if isinstance(event, PitchPoint) or event.note_id not in unsent
        ]


def _is_of(note: NoteOff, event: Event) -> bool:
    return not isinstance(event, PitchPoint) and event.note_id == note.note_id
