"""A hub with pages that watch an exercise, a student who plays it, and a clock that goes with the stream.

The truth is that of the students of ``sounds/students.py``, who play their fault to a known beat.
"""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest

from bridge.base.commands import HearClicks
from bridge.base.events import AudioBlock, Event
from bridge.base.handoff import HandOff
from bridge.base.records import ClicksBack, Record, decode_command, encode
from bridge.study.clicks import count_in
from bridge.study.exercises import COUNT_IN
from bridge.web.client import Client
from bridge.web.guard import Role
from bridge.web.hub import STAMP, Hub
from bridge.web.messages import DrillOn
from bridge.wiring.chain import Chain
from bridge.wiring.clicks_back import ClicksHearer
from bridge.wiring.settings import load_settings
from sounds.students import FAULTY, FIRST_S, TEACHER, TEMPO, played_by
from web.board_room import PATIENCE_S, status

BEAT_S = 60.0 / TEMPO
#: The exercise is asked for at this second of the stream, and its count-in begins so much later.
ASKED_S, IN_S = 0.6, 0.4
#: The loudspeaker takes so long in truth; the page says something else.
DELAY_S, SAID_S = 0.12, 0.03
#: The machine's clock when the stream began.
BEGAN_S = 1000.0
CLICKS_GAIN = 0.06
RELEASE = DrillOn("release", TEMPO, "me", IN_S, SAID_S)


@cache
def sound_of(fault: str, *, clicks: bool) -> tuple[AudioBlock, ...]:
    """A student who hears the count-in ``DELAY_S`` late and plays to that, with the clicks as they come back."""
    played = played_by(FAULTY.get(fault, TEACHER))
    first_s = ASKED_S + IN_S + (DELAY_S if clicks else 0.0)
    length_s = first_s + (COUNT_IN + 8) * BEAT_S + 2.0
    sound = CLICKS_GAIN * clicks * count_in(COUNT_IN, BEAT_S, length_s, played.rate, first_s)
    start = round((first_s + COUNT_IN * BEAT_S - FIRST_S) * played.rate)
    sound[start : start + len(played.samples)] += played.samples[: len(sound) - start]
    sound += 1e-4 * np.random.default_rng(2).standard_normal(len(sound))
    blocks = range(0, len(sound), 256)
    return tuple(AudioBlock(at, played.rate, sound[at : at + 256].astype(np.float32)) for at in blocks)


@cache
def events_of(fault: str, *, clicks: bool) -> tuple[Event, ...]:
    """What the chain of the classroom says of that."""
    blocks = sound_of(fault, clicks=clicks)
    chain = Chain(load_settings("classroom"), blocks[0].rate)
    events: list[Event] = []
    chain.add_watcher(events.append)
    for block in blocks:
        chain.feed(block)
    return tuple(events)


def clicks_back(asked: HearClicks, blocks: Sequence[AudioBlock]) -> ClicksBack:
    """What the engine finds of the count-in."""
    hearer = ClicksHearer()
    hearer.begin(asked)
    return next(back for block in blocks if (back := hearer.hear(block)) is not None)


@dataclass
class Desk:
    """A hub with a teacher and a viewer, and a clock that goes with the stream."""

    hub: Hub
    feed: HandOff
    commands: HandOff
    clock: list[float]

    def tell(self, *records: Record) -> None:
        """Feed it, each record when its sound has come in."""
        for record in records:
            if (ready_s := getattr(record, "ready_s", None)) is not None:
                self.clock[0] = BEGAN_S + ready_s
            assert self.feed.push(STAMP.pack(round(self.clock[0] * 1e9)), encode(record))
            self.hub.hear()

    def come(self, role: Role) -> Client:
        """A page."""
        return self.hub.add(role)

    def owed(self, client: Client, kind: str) -> list[dict[str, Any]]:
        """What of this kind it is told."""
        return [plain for text in client.take_owed() if (plain := json.loads(text))["is"] == kind]

    def asked(self) -> list[object]:
        """What the engine is asked for."""
        return [decode_command(data) for data in self.commands.drain()]

    def play(self, wanted: DrillOn, fault: str = "") -> dict[str, Any]:
        """Ask for an exercise, let a student play it, and what every page is told in the end."""
        teacher, viewer = self.come("teacher"), self.come("viewer")
        events = events_of(fault, clicks=wanted.latency_s is not None)
        before = [event for event in events if event.ready_s < ASKED_S]
        self.tell(status(), *before)
        self.clock[0] = BEGAN_S + ASKED_S
        assert self.hub.obey(teacher, wanted)
        begun = self.owed(teacher, "drill")
        assert [(one["on"], one["exercise"]) for one in begun] == [(True, wanted.exercise)]
        assert begun[0]["in"] == pytest.approx(wanted.in_s + (wanted.latency_s or 0.0), abs=0.001)
        asked = [each for each in self.asked() if isinstance(each, HearClicks)]
        assert len(asked) == (wanted.latency_s is not None)
        counted = [event for event in events[len(before) :] if event.ready_s < ASKED_S + IN_S + COUNT_IN * BEAT_S]
        self.tell(*counted, *(clicks_back(each, sound_of(fault, clicks=True)) for each in asked))
        self.tell(*events[len(before) + len(counted) :])
        return self.marks(viewer)

    def marks(self, client: Client) -> dict[str, Any]:
        """The marks, once they are there."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            if found := self.owed(client, "marks"):
                return found[0]
            self.hub.hear()
            time.sleep(0.005)
        raise AssertionError("no marks were told")
