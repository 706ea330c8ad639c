"""The exercises on the board: begun by the teacher, heard out of the records, judged, kept, and told to every page."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from bridge.base.commands import Arm, Command, HearClicks
from bridge.base.errors import UserError
from bridge.base.events import PitchPoint, Status
from bridge.base.records import Record
from bridge.quantise.third import ThirdZone
from bridge.study.attempt import Attempt
from bridge.study.attempt_words import next_words, note_words, off_words, so_far_words
from bridge.study.exercises import COUNT_IN, exercises
from bridge.study.settings import StudySettings
from bridge.takes.player_file import keep, off_cents_of, player_path, read_kept, unread_words
from bridge.web.board_state import BoardState, Message
from bridge.web.drill_round import Round
from bridge.web.messages import DrillOn
from bridge.web.setup import BoardSetup
from bridge.web.stream_clock import StreamClock

#: So many times before this one are shown.
_SHOWN = 48


@dataclass(frozen=True)
class _Begun:
    """What is played now: as it was asked for, when its first beat is heard or seen, by the clock, and for whom."""

    wanted: DrillOn
    round: Round
    zone: ThirdZone
    harp: str
    path: Path
    first_s: float
    was_armed: bool


class Drill:
    """At most one time through an exercise at once. ``clock`` gives monotonic seconds; nothing here waits.

    Marks and the player's file take their time, and have a thread of their own. ``order`` asks the engine.
    """

    def __init__(self, setup: BoardSetup, clock: Callable[[], float], order: Callable[[Command], None]) -> None:
        self._setup = setup
        self._clock = clock
        self._order = order
        self._stream = StreamClock()
        self._begun: _Begun | None = None
        self._armed = False
        self._aside = ThreadPoolExecutor(max_workers=1, thread_name_prefix="reedwire-drill")
        self._judging: Future[tuple[Message, str]] | None = None

    def begin(self, wanted: DrillOn, state: BoardState) -> list[Message]:
        """Begin what was asked for, in place of what is played now; what to tell all pages."""
        now_s = self._clock()
        # What is played now has perhaps made the bridge listen, which then goes on.
        was_armed = state.armed if self._begun is None else self._begun.was_armed
        every = exercises(state.zone, self._setup.study.near_cents)
        exercise = next((each for each in every if each.name == wanted.exercise), None)
        stream_s = self._stream.at(now_s)
        try:
            path = player_path(wanted.player)
        except UserError as error:
            return self._refused(str(error))
        if exercise is None:
            return self._refused(f"There is no exercise {wanted.exercise!r}.")
        if state.harp_name is None or stream_s is None:
            return self._refused("Nobody knows yet which harp it is." if stream_s is not None else "No sound comes in.")
        heard_s = wanted.latency_s or 0.0
        self._begun = _Begun(
            wanted,
            Round(
                exercise,
                60.0 / wanted.tempo,
                stream_s + wanted.in_s,
                wanted.latency_s,
                self._setup.clean_least,
            ),
            state.zone,
            state.harp_name,
            path,
            now_s + wanted.in_s + heard_s,
            was_armed,
        )
        self._armed = state.armed
        if not state.armed:
            self._order(Arm(armed=True, lent=True))
        if wanted.latency_s is not None:
            self._order(HearClicks(stream_s + wanted.in_s, 60.0 / wanted.tempo, COUNT_IN))
        return self.told()

    def end(self, why: str = "") -> list[Message]:
        """Break off what is played, if anything; nothing of it is kept."""
        if self._begun is None:
            return []
        self._let_go()
        return [_off(why)]

    def take(self, record: Record, came_s: float) -> list[Message]:
        """Take the next record, whose sound came in at ``came_s``; what to tell all pages."""
        if isinstance(record, PitchPoint):
            self._stream.add(record.ready_s, came_s)
        begun = self._begun
        if begun is None:
            return []
        if isinstance(record, Status):
            return self._mind(record, begun)
        if not begun.round.take(record):
            return []
        self._let_go()
        self._judging = self._aside.submit(_judged, begun, self._setup.study)
        return [_off("")]

    def judged(self) -> tuple[Message | None, str]:
        """What was played, once it is judged, and a line for the teacher when there was trouble."""
        if self._judging is None or not self._judging.done():
            return None, ""
        judging, self._judging = self._judging, None
        return judging.result()

    def told(self) -> list[Message]:
        """What is played now, for a page that has just come or for all; nothing while nothing is."""
        if self._begun is None:
            return []
        exercise, wanted = self._begun.round.exercise, self._begun.wanted
        return [
            {
                "is": "drill",
                "on": True,
                "exercise": exercise.name,
                "title": exercise.title,
                "how": exercise.how,
                "tempo": wanted.tempo,
                "player": wanted.player,
                "counted": COUNT_IN,
                "beats": round(exercise.beats),
                "in": round(self._begun.first_s - self._clock(), 3),
            }
        ]

    def _mind(self, status: Status, begun: _Begun) -> list[Message]:
        """Break off when what is heard from now on is no longer this exercise."""
        self._armed = self._armed or status.armed
        if status.sought or status.harp != begun.harp:
            return self.end("The harp was changed, so that the exercise was broken off.")
        if self._armed and not status.armed:
            return self.end("The bridge does not listen any more, so that the exercise was broken off.")
        return []

    def _refused(self, why: str) -> list[Message]:
        """Nothing can be begun, and what is played now is over all the same."""
        self._let_go()
        return [_off(why)]

    def _let_go(self) -> None:
        """Nothing is played any more: the bridge listens as it did before, even if it has not yet said that it does."""
        if self._begun is not None and not self._begun.was_armed:
            self._order(Arm(armed=False))
        self._begun = None


def _off(why: str) -> Message:
    return {"is": "drill", "on": False, "why": why}


def _judged(begun: _Begun, settings: StudySettings) -> tuple[Message, str]:
    """The marks of what was played, and what went wrong with the player's file; for the thread aside."""
    off, trouble = _before(begun)
    attempt = begun.round.judged(settings, off[-1] if off else None)
    if off is None or not attempt.heard:
        return _marks(begun, attempt, off or []), trouble
    off = [*off, attempt.advice.off_cents]
    try:
        keep(begun.path, attempt, time.strftime("%Y-%m-%dT%H:%M:%S"), begun.harp)
    except UserError as error:
        trouble = str(error)
    return _marks(begun, attempt, off), trouble


def _before(begun: _Begun) -> tuple[list[float] | None, str]:
    """How far off each time before was, None for a file that must stay as it is; and what is wrong with it."""
    try:
        kept, torn = read_kept(begun.path)
    except UserError as error:
        return None, str(error)
    return off_cents_of(kept, begun.round.exercise.name), unread_words(begun.path, torn)


def _marks(begun: _Begun, attempt: Attempt, off: list[float]) -> Message:
    """What every page is told of one time through."""
    advice = attempt.advice
    return {
        "is": "marks",
        "exercise": attempt.exercise.name,
        "title": attempt.exercise.title,
        "tempo": begun.wanted.tempo,
        "player": begun.wanted.player,
        "notes": note_words(attempt, begun.zone),
        "off": off_words(attempt),
        "next": next_words(attempt),
        "success": advice.success,
        "beat": begun.round.delay_words,
        "progress": [round(cents, 1) for cents in off[-_SHOWN:]],
        "so_far": so_far_words(off),
    }
