"""The MIDI output: encoder, byte budget and port in a row."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from contextlib import suppress
from typing import Protocol

from bridge.base.errors import ClosedError
from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.send.budget import ByteBudget
from bridge.send.kept_port import PortNews
from bridge.send.midi_encoder import MidiEncoder, Outgoing
from bridge.send.midi_messages import ACTIVE_SENSING, is_note_off
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch

#: A note that begins this long after the last time sends the bend range again, in seconds of the stream.
REMIND_S = 5.0
#: In a zone only after so much rest, since a receiver that is told of its zone cuts off what still rings.
ZONE_REST_S = 1.0
#: A receiver of Active Sensing waits at most 0.3 s for the next message (MIDI 1.0), and the engine may be 0.05 s late.
SENSE_S = 0.2
#: When no event has come for so long, in seconds, values that the budget held back go without one.
IDLE_S = 0.1


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


def never_any(_now_s: float) -> PortNews:
    """The news of a port that never goes away."""
    return PortNews.SAME


class MidiOutput:
    """Events as MIDI messages on one channel, or in a zone, of one port.

    While the port is gone, or fails, nothing is begun on it. When it works again, first come the Note Offs that are
    owed, then all that silences, since nobody knows what was heard, then the bend range and with the next note all
    values. So it is too after an event that cannot be encoded. ``news(now_s)`` says what became of the port, without
    waiting.
    """

    name = "MIDI"

    def __init__(
        self,
        settings: MidiSettings,
        pitch: SentPitch,
        port: MessagePort,
        news: Callable[[float], PortNews] = never_any,
    ) -> None:
        self._settings = settings
        self._news = news
        self._encoder = MidiEncoder(settings, pitch)
        self._budget = ByteBudget(settings)
        self._port = port
        self._owed: list[bytes] = []
        self._gone = self._unsure = False
        self._moving = False
        self._told_s = 0.0
        self._ended_s = -math.inf
        self._event_s = self._idle_event_s = 0.0
        self._idle_since_s = self._sensed_s = -math.inf
        self._is_open = False

    def open(self) -> None:
        """Open the port and set its bend range; raises UserError when the port cannot be had."""
        if self._is_open:
            return
        self._port.open()
        self._is_open = True
        self._gone = self._unsure = False
        self._told_s = 0.0
        self._budget = ByteBudget(self._settings)
        self._put_at_once(_messages(self._encoder.opening()))

    def send(self, event: Event) -> None:
        """Send what the event changes and the budget allows; raises what the port raises, and tries again next time."""
        self._check_open()
        self._event_s = event.ready_s
        if isinstance(event, PitchPoint):
            # A point opens its hop: while an inflection follows each, a waiting value would go out one hop old.
            moving, self._moving = self._moving, False
            if moving:
                return
        elif isinstance(event, Inflection):
            self._moving = True
        elif isinstance(event, NoteOff):
            self._ended_s = event.ready_s
        if not self._gone:
            self._make_sure()
            try:
                messages = self._budget.pass_on(event.ready_s, self._remind(event) + self._encoder.encode(event))
            except Exception:
                self._lose([])
                raise
            self._put(messages)

    def attend(self, now_s: float) -> None:
        """Between events: see whether the port is there, and send what no event brings. ``now_s`` is monotonic."""
        self._check_open()
        news = self._news(now_s)
        if news is PortNews.GONE:
            self._gone = True
            self._lose(self._owed)
            self._part(self._encoder.panic())
        elif news is PortNews.BACK:
            self._gone = False
        if self._gone:
            return
        self._make_sure()
        self._let_out(now_s)
        if self._settings.active_sensing and now_s - self._sensed_s >= SENSE_S:
            self._sensed_s = now_s
            self._put_at_once([ACTIVE_SENSING])

    def panic(self) -> None:
        """Silence the channel at once."""
        self._check_open()
        self._budget.forget()
        if self._gone:
            return
        if self._unsure:
            self._make_sure()
        else:
            self._put_at_once(_messages(self._encoder.panic()))

    def close(self) -> None:
        """Silence the channel, leave it reset, close the port."""
        if not self._is_open:
            return
        self._is_open = False
        try:
            if self._gone:
                self._part(self._encoder.finish())
            else:
                self._silence()
        finally:
            self._owed.clear()
            self._port.close()

    def _silence(self) -> None:
        """Note Offs, 123, 120, bend to its centre, controllers reset; once more should the port refuse any of it."""
        try:
            self._put(self._owed + _messages(self._encoder.finish()))
        except Exception:  # noqa: BLE001 -- whatever it is, a note that hangs is worse
            self._put(self._owed + _messages(self._encoder.finish()))

    def _part(self, items: list[Outgoing]) -> None:
        """Send what silences into a port that may only seem to be gone; the Note Offs stay owed."""
        words = self._owed + _messages(items)
        self._lose(words)
        # Who is gone hears none of it, and what it raises is told already.
        with suppress(Exception):
            for data in words:
                self._port.send(data)

    def _make_sure(self) -> None:
        """After an outage, begin anew from silence."""
        if self._unsure:
            # Whatever of it fails, the Note Offs stay owed.
            self._lose(self._owed)
            self._put_at_once(self._owed + _messages([*self._encoder.panic(), *self._encoder.opening()]))
            self._unsure = False
            self._owed = []

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

    def _let_out(self, now_s: float) -> None:
        """Values that wait although no event comes any more."""
        if self._event_s != self._idle_event_s:
            self._idle_event_s, self._idle_since_s = self._event_s, now_s
        elif (idle_s := now_s - self._idle_since_s) >= IDLE_S:
            self._put(self._budget.pass_on(self._event_s + idle_s, []))

    def _put_at_once(self, messages: list[bytes]) -> None:
        """Send what waits for nothing; the budget pays for it afterwards."""
        self._budget.charge(messages)
        self._put(messages)

    def _put(self, messages: list[bytes]) -> None:
        for index, data in enumerate(messages):
            try:
                self._port.send(data)
            except BaseException:
                self._lose(messages[index:])
                raise

    def _lose(self, late: list[bytes]) -> None:
        """Nobody knows what was heard of the last messages, and ``late`` did not go: Note Offs are owed."""
        self._unsure = True
        self._budget.forget()
        self._owed = [data for data in [*late, *_messages(self._encoder.release())] if is_note_off(data)]

    def _check_open(self) -> None:
        if not self._is_open:
            raise ClosedError("This MIDI output is closed: open it before sending.")


def _messages(items: Iterable[Outgoing]) -> list[bytes]:
    return [data for item in items for data in item.messages]
