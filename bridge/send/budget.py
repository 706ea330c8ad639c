"""A port's byte budget, kept by stream time. Pure.

Notes and the bend of a note that begins always go, even into debt, and the values of a note that begins do not wait
for the interval between two of a kind. Every other value waits for its turn in the order bend, breath, blueness, lean,
brightness; a newer value of the same lane and channel replaces the one that waits, so that the last one always goes
out, with this event or with one of the next. At the instant such a value goes, the bytes of the past second, itself
included, are within the budget.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from bridge.send.midi_encoder import LANES, WIRE_ORDER, Lane, Outgoing
from bridge.send.midi_messages import is_note_on
from bridge.send.midi_settings import MidiSettings

#: Share of a second's bytes that may go at once after a pause.
BURST_SHARE = 0.02
#: The longest value is a 14-bit controller: two messages of three bytes.
LONGEST_VALUE = 6
#: Where a value belongs: its lane and its channel.
_Place = tuple[Lane, int]


class ByteBudget:
    """Holds back what a port could not carry in time."""

    def __init__(self, settings: MidiSettings) -> None:
        a_second = math.inf if settings.bytes_per_second is None else float(settings.bytes_per_second)
        self._burst = max(LONGEST_VALUE, BURST_SHARE * a_second)
        self._refill = a_second if math.isinf(a_second) else a_second - self._burst
        self._interval_s = {lane: settings.least_interval_s(name) for name, lane in LANES.items()}
        self._credit = self._burst
        self._time_s: float | None = None
        self._waiting: dict[_Place, Outgoing] = {}
        self._sent_at: dict[_Place, float] = {}

    def pass_on(self, time_s: float, items: Iterable[Outgoing]) -> list[bytes]:
        """The messages to send now, in order; call it also with no items, to let waiting values go.

        ``time_s`` is the stream time in seconds; should it go back (a stream begun again), no credit is earned.
        """
        self._earn(time_s)
        going: list[bytes] = []
        for item in items:
            if item.lane is not Lane.NOTES:
                self._waiting[item.place] = item
                going += self._go(time_s, item.place) if item.at_once else ()
                continue
            if is_note_on(item.messages[0]):
                if (bend := (Lane.BEND, item.place[1])) in self._waiting:
                    going += self._go(time_s, bend)
                going += self._spend(time_s, begins=True)
            self._credit -= _size(item)
            going += item.messages
        return going + self._spend(time_s, begins=False)

    def charge(self, messages: Iterable[bytes]) -> None:
        """Count messages that went out without asking, into debt if need be."""
        self._credit -= sum(map(len, messages))

    def forget(self) -> None:
        """Drop what waits: after a panic it would be wrong."""
        self._waiting.clear()

    def _earn(self, time_s: float) -> None:
        if self._time_s is not None:
            passed = max(0.0, time_s - self._time_s)
            earned = passed * self._refill if passed else 0.0
            self._credit = min(self._burst, self._credit + earned)
        self._time_s = time_s

    def _spend(self, time_s: float, *, begins: bool) -> list[bytes]:
        """What waits and can be paid for: chosen by rank, put on the wire in wire order; if a note begins, at once."""
        credit = self._credit
        chosen = []
        for place in sorted(self._waiting):
            if not begins and 0.0 <= time_s - self._sent_at.get(place, -math.inf) < self._interval_s[place[0]]:
                continue
            cost = _size(self._waiting[place])
            if cost > credit:
                break
            credit -= cost
            chosen.append(place)
        chosen.sort(key=lambda place: WIRE_ORDER.index(place[0]))
        return [data for place in chosen for data in self._go(time_s, place)]

    def _go(self, time_s: float, place: _Place) -> tuple[bytes, ...]:
        item = self._waiting.pop(place)
        self._sent_at[place] = time_s
        self._credit -= _size(item)
        return item.messages


def _size(item: Outgoing) -> int:
    return sum(map(len, item.messages))
