"""The MIDI output: encoder, byte budget and port in a row."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Protocol

from bridge.base.errors import ClosedError
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.send.budget import ByteBudget
from bridge.send.midi_encoder import MidiEncoder, Outgoing
from bridge.send.midi_messages import ACTIVE_SENSING, is_note_off
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch

#: A note that begins this long after the last time sends the bend range again, in seconds of the stream.
REMIND_S = 5.0
#: In a zone only after so much rest, since a receiver that is told of its zone cuts off what still rings.
ZONE_REST_S = 1.0


#: Active Sensing goes out this often while it listens, in seconds of the stream: at most 0.3 s may pass (MIDI 1.0).
SENSED_S = 0.25


class MessagePort(Protocol):
    """Carries MIDI messages, each the bytes of one."""

    def open(self) -> None:
        """Take hold of the port; raises UserError when it cannot be had."""
        ...

    def send(self, data: bytes) -> None:
        """Send one message without waiting."""
        ...

    def close(self) -> None:
        """Let go; closing again does nothing."""
        ...


class MidiOutput:
    """Events as MIDI messages on one channel of one port.

    A Note Off that a failing port refused is owed: it goes first as soon as the port takes messages again.
    """

    name = "MIDI"

    def __init__(self, settings: MidiSettings, pitch: SentPitch, port: MessagePort) -> None:
        self._settings = settings
        self._encoder = MidiEncoder(settings, pitch)
        self._budget = ByteBudget(settings)
        self._port = port
        self._owed: list[bytes] = []
        self._moving = False
        self._told_s = 0.0
        self._ended_s = self._sensed_s = -math.inf
        self._is_open = False

    def open(self) -> None:
        """Open the port and set its bend range; raises UserError when the port cannot be had."""
        if self._is_open:
            return
        self._port.open()
        self._is_open = True
        self._told_s = 0.0
        self._budget = ByteBudget(self._settings)
        self._put_all(self._encoder.opening())

    def send(self, event: Event) -> None:
        """Send what the event changes and the budget allows."""
        self._check_open()
        if self._settings.active_sensing and not 0.0 <= event.ready_s - self._sensed_s < SENSED_S:
            self._sensed_s = event.ready_s
            self._put([ACTIVE_SENSING])
        if isinstance(event, PitchPoint):
            # A point opens its hop: while an inflection follows each, a waiting value would go out one hop old.
            moving, self._moving = self._moving, False
            if moving:
                return
        elif isinstance(event, Inflection):
            self._moving = True
        elif isinstance(event, NoteOff):
            self._ended_s = event.ready_s
        items = self._remind(event)
        self._put(self._budget.pass_on(event.ready_s, items + self._encoder.encode(event)))

    def panic(self) -> None:
        """Silence the channel at once."""
        self._check_open()
        self._budget.forget()
        self._put_all(self._encoder.panic())

    def close(self) -> None:
        """End the sounding note, leave the channel reset, close the port."""
        if not self._is_open:
            return
        self._is_open = False
        try:
            self._put_all(self._encoder.finish())
        finally:
            self._owed.clear()
            self._port.close()

    def _remind(self, event: Event) -> list[Outgoing]:
        """Bend ranges and all values again: a synth that was connected later than the port was opened has none.

        With a note that begins, since no receiver minds it there; the zone, which is longer and cuts off what rings, in
        a rest.
        """
        time_s = event.ready_s
        if 0.0 <= time_s - self._told_s < REMIND_S:
            return []
        if self._settings.mode == "mpe":
            rests = not self._encoder.sounds and not 0.0 <= time_s - self._ended_s < ZONE_REST_S
            due = isinstance(event, PitchPoint) and rests
        else:
            due = isinstance(event, NoteOn)
        if not due:
            return []
        self._told_s = time_s
        return self._encoder.opening()

    def _put_all(self, items: Iterable[Outgoing]) -> None:
        """Send everything, whatever the budget says: opening, panic and closing."""
        self._put([data for item in items for data in item.messages])

    def _put(self, messages: list[bytes]) -> None:
        queue = self._owed + messages
        self._owed = []
        for index, data in enumerate(queue):
            try:
                self._port.send(data)
            except BaseException:
                self._owed = [late for late in queue[index:] if is_note_off(late)]
                raise

    def _check_open(self) -> None:
        if not self._is_open:
            raise ClosedError("This MIDI output is closed: open it before sending.")
