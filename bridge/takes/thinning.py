"""Leaves out what moves faster than anyone asked for, without losing where a note began, turned or ended."""

from __future__ import annotations

from bridge.base.events import Event, Inflection, NoteOff, NoteOn

#: Half a microsecond: frames as far apart as the interval must not be lost to rounding.
_ROUNDING_S = 5e-7


class Thinning:
    """At most one inflection in ``interval_s`` of stream time; 0 keeps them all.

    Always kept are the values a note begins with, the first of each degree, and the last ones before the note ends.
    """

    def __init__(self, interval_s: float) -> None:
        self._gap_s = interval_s - _ROUNDING_S
        self._degree = ""
        self._kept_s = 0.0
        self._held: Inflection | None = None

    def take(self, event: Event) -> list[Event]:
        """What is kept now that ``event`` has come, in order."""
        match event:
            case NoteOn():
                self._keep(event.inflection)
            case Inflection():
                if event.degree == self._degree and 0.0 <= event.time_s - self._kept_s < self._gap_s:
                    self._held = event
                    return []
                self._keep(event)
            case NoteOff():
                return [*self.rest(), event]
            case _:
                pass
        return [event]

    def rest(self) -> list[Event]:
        """The last values, when they were left out until now."""
        held, self._held = self._held, None
        return [] if held is None else [held]

    def _keep(self, inflection: Inflection) -> None:
        self._degree, self._kept_s, self._held = inflection.degree, inflection.time_s, None
