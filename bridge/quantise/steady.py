"""The same delay for every note: what was sure early waits, so that the player's timing comes out as it went in.

A player gets used to a delay that is always the same, and is thrown by one that changes (10 ms steady was rated better
than 10 +/- 3 ms: Jack and others, 2018). A reed that speaks slowly is sure later than one that speaks at once; held
back to one delay, both sound as far apart as they were played.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from bridge.base.events import Event, NoteOn, PitchPoint


class SteadyDelay:
    """Holds events until ``delay_s`` after the instant they describe; what is sure later than that goes at once."""

    def __init__(self, delay_s: float) -> None:
        self._delay_s = delay_s
        self._held: deque[Event] = deque()

    def hold(self, event: Event) -> None:
        """Take an event, in the order in which the quantiser gives them."""
        self._held.append(event)

    def due(self, now_s: float) -> list[Event]:
        """What must go out by the stream time ``now_s``, in order; its ``ready_s`` becomes that time.

        An event never overtakes one before it: a note that is late holds back what follows it.
        """
        events: list[Event] = []
        while self._held and self._held[0].time_s + self._delay_s <= now_s:
            event = self._held.popleft()
            events.append(replace(event, ready_s=max(event.ready_s, now_s)))
        return events

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
