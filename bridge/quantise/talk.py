"""Talk is not playing: voices, claps and chairs are kept from becoming notes.

Each frame says how surely it is a reed. What is heard adds up to a belief between talk (-1) and play (+1) that fades
in silence. A sound begins a note once it has proved itself: at once in the midst of a phrase, where a reed that still
speaks dully is trusted, and for longer after talk, where it must be surely a reed. What turns out to be talk is ended.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import replace
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bridge.base.events import PitchFrame
from bridge.base.units import SILENCE_DB, clip
from bridge.quantise.left_out import LeftOut, Spans

#: Evidence counts in full from these odds on: e to this power.
_CERTAIN = 4.0
_LEAST_ODDS = 1e-9
#: Frames further apart than this count no longer than this, seconds.
_LONGEST_STEP_S = 0.005
#: A sound that proves itself within this time is a reed from its beginning, seconds.
_ONE_SOUND_S = 0.1
#: A sound has proved to be a reed, for as long as it lasts, by so much sure evidence, seconds.
_PROVEN_S = 0.02
#: Where nobody waits, proof takes so long before each note, milliseconds.
_LEISURE_MS = 20.0
#: What may still prove to be a reed waits for that so long, in seconds: the quantiser needs no more to know its pitch.
_WAIT_S = 0.02


class TalkSettings(BaseModel):
    """How long and how surely a sound must be a reed; proof counts in full where it is certain."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    follow: Literal["harp", "any"] = Field(
        default="harp", description="harp: voices and noises send nothing. any: whatever has a pitch is followed."
    )
    playing_ms: float = Field(
        default=0.0, ge=0.0, le=500.0, description="Proof that begins a note among other notes, milliseconds."
    )
    fresh_ms: float = Field(
        default=0.7, ge=0.0, le=500.0, description="Proof that begins a note after a long silence, milliseconds."
    )
    talking_ms: float = Field(
        default=30.0, ge=0.0, le=500.0, description="Proof that begins a note right after talk, milliseconds."
    )
    playing_trust: float = Field(
        default=4.0, ge=-10.0, le=10.0, description="Added to the logarithm of a reed's odds among other notes."
    )
    fresh_trust: float = Field(default=2.0, ge=-10.0, le=10.0, description="The same after a long silence.")
    talking_trust: float = Field(default=-2.0, ge=-10.0, le=10.0, description="The same right after talk.")
    doubt_ms: float = Field(
        default=25.0, ge=0.0, le=500.0, description="Proof of talk that ends a note begun by mistake, milliseconds."
    )
    turn_ms: float = Field(
        default=150.0, gt=0.0, le=5000.0, description="So much sure evidence leads from silence to talk or play, ms."
    )
    leave_ms: float = Field(
        default=40.0,
        gt=0.0,
        le=5000.0,
        description="Sure evidence of talk, in a sound not yet proved a reed, that leads out of playing, ms.",
    )
    talk_memory_s: float = Field(
        default=4.0, gt=0.0, le=60.0, description="In so much silence talk is largely forgotten, seconds."
    )
    play_memory_s: float = Field(
        default=2.0, gt=0.0, le=60.0, description="In so much silence playing is largely forgotten, seconds."
    )

    def unhurried(self) -> TalkSettings:
        """The same settings for a recording: a reed is trusted no further than it has proved itself, at leisure."""
        return self.model_copy(
            update={
                "playing_ms": max(self.playing_ms, _LEISURE_MS),
                "fresh_ms": max(self.fresh_ms, _LEISURE_MS),
                "playing_trust": min(self.playing_trust, 0.0),
                "fresh_trust": min(self.fresh_trust, 0.0),
            }
        )


class TalkFilter:
    """Takes the pitch (0 Hz) from frames in which no reed sounds. Frames come in stream order; one stream each.

    ``tells_spans`` is whether it remembers what it leaves out, for as long as it goes on.
    """

    def __init__(self, settings: TalkSettings, *, tells_spans: bool = True) -> None:
        self._settings = settings
        self._belief = 0.0
        self._ready_s = -math.inf
        self._open = False
        self._proof_s = self._doubt_s = 0.0
        self._sound_s = self._proof_from_s = 0.0
        #: What the sound shows by itself, whatever was believed before, and whether that was once enough.
        self._evidence_s = 0.0
        self._proven = False
        self._pitched = False
        self._span = Spans(None if tells_spans else 0)

    @property
    def begun_s(self) -> float | None:
        """When the reed that sounds now began, of the time that frames describe; None while none does."""
        if not self._open:
            return None
        return self._sound_s if self._proof_from_s - self._sound_s <= _ONE_SOUND_S else self._proof_from_s

    @property
    def undecided(self) -> bool:
        """Whether what sounds now has begun to prove itself a reed, but not yet enough."""
        return not self._open and self._proof_s > 0.0

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """What was left out so far, in order; a span is complete after a rest, or when a reed has begun."""
        return tuple(self._span.done)

    def step(self, frame: PitchFrame) -> PitchFrame:
        """The frame as it is where a reed sounds, otherwise without pitch; an attack is handed on in any case."""
        passed = clip(frame.ready_s - self._ready_s, 0.0, 1.0)
        self._ready_s = frame.ready_s
        pitched = 0.0 < frame.hz < math.inf
        if frame.attack or not pitched or not self._pitched:
            self._proof_s = self._evidence_s = 0.0
            self._open = self._proven = False
            self._sound_s = frame.time_s
        self._pitched = pitched
        if not pitched:
            # Notes of a phrase follow soon, and somebody who talks may pause for longer.
            memory_s = self._settings.play_memory_s if self._belief > 0.0 else self._settings.talk_memory_s
            self._belief *= math.exp(-passed / memory_s)
            self._span.hear(frame, 0.0)
            return frame
        self._weigh(frame, min(passed, _LONGEST_STEP_S))
        begun_s = self.begun_s
        if begun_s is not None:
            self._span.reed(begun_s)
            return frame
        self._span.hear(frame, min(passed, _LONGEST_STEP_S))
        return replace(frame, hz=0.0)

    def _weigh(self, frame: PitchFrame, passed: float) -> None:
        settings = self._settings
        reed = clip(frame.reed, 0.0, 1.0)
        odds = math.log(max(reed, _LEAST_ODDS) / max(1.0 - reed, _LEAST_ODDS))
        evidence_s = clip(odds / _CERTAIN, -1.0, 1.0) * passed
        self._evidence_s += evidence_s
        self._proven = self._proven or self._evidence_s >= _PROVEN_S
        # A reed that has proved itself may sound dull for a while, as behind closed hands.
        leaves = odds < 0.0 < self._belief and not self._proven
        turn_ms = settings.leave_ms if leaves else settings.turn_ms
        self._belief = clip(self._belief + 1000.0 * evidence_s / turn_ms, -1.0, 1.0)
        trust = self._between(settings.talking_trust, settings.fresh_trust, settings.playing_trust)
        proof = clip((odds + trust) / _CERTAIN, -1.0, 1.0) * passed
        if self._proof_s <= 0.0:
            self._proof_from_s = frame.time_s
        self._proof_s = max(0.0, self._proof_s + proof)
        self._doubt_s = max(0.0, self._doubt_s - proof)
        if not self._open:
            needed_ms = self._between(settings.talking_ms, settings.fresh_ms, settings.playing_ms)
            self._open = proof > 0.0 and 1000.0 * self._proof_s >= needed_ms
            self._doubt_s = 0.0
        elif self._belief < 0.0 and 1000.0 * self._doubt_s >= settings.doubt_ms:
            self._open = False
            self._proof_s = 0.0

    def _between(self, talking: float, fresh: float, playing: float) -> float:
        """The value for what is believed now."""
        return fresh + abs(self._belief) * ((playing if self._belief > 0.0 else talking) - fresh)


class TalkLive:
    """The same filter for playing: what is undecided waits, and has its pitch from the beginning of its proof on.

    So the quantiser watches the pitch settle while the reed proves itself, not afterwards. Attacks never wait. What is
    left out is not remembered: a performance may last for hours.
    """

    def __init__(self, settings: TalkSettings) -> None:
        self._filter = TalkFilter(settings, tells_spans=False)
        self._waiting: deque[PitchFrame] = deque()

    def step(self, frame: PitchFrame) -> list[PitchFrame]:
        """Take a frame; the frames that are settled by now, in order, none of them ready before this one."""
        given = self.finish() if frame.attack else []
        heard = self._filter.step(frame)
        now_s = frame.ready_s
        if self._filter.undecided and not frame.attack:
            self._waiting.append(frame)
            while now_s - self._waiting[0].ready_s > _WAIT_S:
                given.append(replace(self._waiting.popleft(), hz=0.0))
        else:
            reed = self._filter.begun_s is not None
            given += self._waiting if reed else self.finish()
            self._waiting.clear()
            given.append(heard)
        return [before if before is heard else replace(before, ready_s=now_s) for before in given]

    def finish(self) -> list[PitchFrame]:
        """The frames that still wait, as no reeds."""
        given = [replace(frame, hz=0.0) for frame in self._waiting]
        self._waiting.clear()
        return given


class TalkAhead:
    """The same filter for a recording: it looks ahead, so that a reed has its pitch from its beginning on."""

    def __init__(self, settings: TalkSettings, look_ahead_s: float = 0.3) -> None:
        self._filter = TalkFilter(settings)
        self._look_ahead_s = look_ahead_s
        self._waiting: deque[tuple[PitchFrame, PitchFrame]] = deque()
        self._sounds = False

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """See :attr:`TalkFilter.left_out`."""
        return self._filter.left_out

    def step(self, frame: PitchFrame) -> list[PitchFrame]:
        """Take a frame; the frames, in order, that are settled by now: those ``look_ahead_s`` older than this one."""
        heard = self._filter.step(frame)
        begun_s = self._filter.begun_s
        if begun_s is not None and not self._sounds:
            for place in range(len(self._waiting) - 1, -1, -1):
                before = self._waiting[place][0]
                if before.time_s < begun_s:
                    break
                self._waiting[place] = (before, before)
        self._sounds = begun_s is not None
        self._waiting.append((frame, heard))
        return self._give(frame.ready_s - self._look_ahead_s)

    def finish(self) -> list[PitchFrame]:
        """The frames that still wait, when the recording has ended."""
        self._filter.step(PitchFrame(self._last_s + 1.0, self._last_s + 1.0, 0.0, SILENCE_DB, 0.0, 0.0, 0.0))
        return self._give(math.inf)

    @property
    def _last_s(self) -> float:
        return self._waiting[-1][0].ready_s if self._waiting else 0.0

    def _give(self, until_s: float) -> list[PitchFrame]:
        given = []
        while self._waiting and self._waiting[0][0].ready_s <= until_s:
            given.append(self._waiting.popleft()[1])
        return given
