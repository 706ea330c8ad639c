"""Bleed: what the program itself makes sound and the microphone hears again.

The synth plays what was sent to it, later and softer than the player: its sound follows the player's pitch. While the
player's note sounds it does no harm; when that ends, the synth goes on at its own level until it is told, and would
hold the very note that it answers to. So a note that falls at once, faster than hands can flutter, and stays down, has
ended: what goes on at the pitches just sent, or octaves of them, is the answer. It only fades from then on, since the
synth has been told: what is struck afresh, rises, is as loud as before, or does not fade is the player again.

And :class:`Pause` keeps the program from listening while it sounds a model.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from pydantic import BaseModel, ConfigDict, Field

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchFrame
from bridge.base.units import CENTS_PER_OCTAVE, SILENCE_DB, midi_to_hz

#: What comes back less than this under the player is no longer surely told from the player, dB (measured).
SOFTER_DB = 12.0
#: An answer later than this begins a note now and then, whatever is set, milliseconds (measured).
LATE_MS = 40.0
#: Told that the note has ended, a synth has begun to fade so long after its answer could come at all: by this much, dB.
_FADES_S, _MOVES_DB = 0.07, 1.0
#: Between the answer and a new note the follower may have the pitch of neither, but is less sure of it than this.
_UNSURE = 0.5
_CENTS_PER_SEMITONE = 100.0


class BleedSettings(BaseModel):
    """How the synth's own sound is told from the player's."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    guard: bool = Field(
        default=False, description="Keep the synth's sound in the microphone from playing; for loudspeakers."
    )
    drop_db: float = Field(
        default=5.5, ge=3.0, le=40.0, description="A note that falls by this much at once may have ended, dB."
    )
    # Hands that flutter 7 times a second and 10 dB deep fall by 10 * sin(pi * 7 * 0.02) = 4.3 dB meanwhile.
    drop_ms: float = Field(
        default=20.0, ge=5.0, le=200.0, description="At once is within so long, milliseconds; hands flutter slower."
    )
    stay_ms: float = Field(
        default=30.0,
        ge=0.0,
        le=200.0,
        description="It has ended once it stays down so long, milliseconds; the two together beat for less.",
    )
    back_db: float = Field(
        default=4.0, ge=0.0, le=40.0, description="What is no softer than this under the note is the player, dB."
    )
    rise_db: float = Field(
        default=5.0, ge=1.0, le=40.0, description="What rises this far out of the synth's sound is the player, dB."
    )
    # A reed slides up to its pitch from so far below, and under the answer its first cycles have no level of their own.
    near_cents: float = Field(
        default=150.0,
        gt=0.0,
        le=200.0,
        description="What sounds this near a pitch just sent, in any octave, may be the synth, cents.",
    )
    answers_ms: float = Field(
        default=80.0,
        ge=0.0,
        le=1000.0,
        description="A bend comes back from the synth within so long, ms; check says more for a slow loudspeaker.",
    )
    tail_ms: float = Field(
        default=600.0, ge=0.0, le=10000.0, description="So long after its end a note may still sound on, milliseconds."
    )


@dataclass(slots=True)
class _Echo:
    """What may be a note's answer: since when, how loud the player was and how soft it has been since, dBFS.

    ``sure`` once the note has ended, or the sound has stayed down. Its level moved last at ``moved_s``, to
    ``moved_db``. The player was at ``own``, the answer is at ``pitches``, in cents above 1 Hz.
    """

    since_s: float
    player_db: float
    heard_db: float
    own: float
    pitches: tuple[float, ...]
    sure: bool
    moved_s: float
    moved_db: float


class BleedGuard:
    """Takes the pitch out of the frames that are only the synth's answer; :meth:`tell` it every event that is sent.

    ``sent_cents`` gives what is sent above the MIDI note for a bend that was played, both in cents.
    """

    def __init__(self, settings: BleedSettings, sent_cents: Callable[[float], float] = float) -> None:
        self._settings = settings
        self._sent_cents = sent_cents
        self._answers_s = settings.answers_ms / 1000.0
        self._drop_s = settings.drop_ms / 1000.0
        self._stay_s = settings.stay_ms / 1000.0
        self._tail_s = settings.tail_ms / 1000.0
        self._levels: deque[tuple[float, float]] = deque()
        self._sent: deque[tuple[float, float]] = deque()
        self._sounds = False
        self._midi = self._own = 0.0
        self._begun_s = self._struck_s = -math.inf
        self._echo: _Echo | None = None

    def tell(self, event: Event) -> None:
        """Take one event as it is sent."""
        if not self._settings.guard:
            return
        if isinstance(event, NoteOn):
            self._sounds = True
            self._midi = float(event.midi_note)
            self._begun_s = event.ready_s
            self._echo = None
            self._levels.clear()
            self._note_pitch(event.inflection)
        elif isinstance(event, Inflection):
            self._note_pitch(event)
        elif isinstance(event, NoteOff):
            if self._sounds and (self._echo is None or not self._echo.sure):
                loudest = max((level for _, level in self._levels), default=-math.inf)
                self._echo = self._answer(event.time_s, loudest, loudest - self._settings.drop_db, sure=True)
            self._sounds = False

    def step(self, frame: PitchFrame) -> PitchFrame:
        """The frame, without its pitch where it is only the synth's."""
        if not self._settings.guard:
            return frame
        time_s, echo = frame.time_s, self._heard_echo(frame)
        if echo is None:
            return frame
        lost = frame.hz <= 0.0
        cents = 0.0 if lost else CENTS_PER_OCTAVE * math.log2(frame.hz)
        near = not lost and (frame.confidence < _UNSURE or self._is_near(cents, echo))
        if near and self._is_player(time_s, frame.level_db, echo):
            self._echo = None
            # Without an attack what is soft would be taken for the last note's tail.
            return replace(frame, attack=True) if echo.sure else frame
        if not self._may_begin(time_s):
            echo.heard_db = min(echo.heard_db, frame.level_db)
        # Where the pitch is lost as well, another note begins in the answer to this one.
        if not echo.sure and (lost or time_s - echo.since_s >= self._stay_s):
            echo.sure, echo.moved_s = True, time_s
        # A late answer rises first: its fading is counted from its top.
        if not near or abs(frame.level_db - echo.moved_db) > _MOVES_DB:
            echo.moved_s, echo.moved_db = time_s, frame.level_db if near else math.inf
        if echo.sure and (near or (lost and self._sounds)):
            return replace(frame, hz=0.0, level_db=SILENCE_DB)
        if near and abs(cents - echo.own) > self._settings.near_cents:
            # The answer, elsewhere than the player was: it would begin a note before it is sure.
            return replace(frame, hz=0.0)
        return frame

    def _heard_echo(self, frame: PitchFrame) -> _Echo | None:
        """Take note of the player in this frame; the echo that it may be, if there is any."""
        if frame.attack and not self._may_begin(frame.time_s):
            self._struck_s = frame.time_s
        if self._sounds and frame.hz > 0.0:
            self._watch(frame.time_s, frame.level_db)
        if self._echo is not None and frame.time_s - self._echo.since_s > self._tail_s:
            self._echo = None
        if self._echo is None and frame.hz > 0.0:
            self._own = CENTS_PER_OCTAVE * math.log2(frame.hz)
        return self._echo

    def _may_begin(self, time_s: float) -> bool:
        """Whether the answer to the last Note On may only begin now, after a note so short that it has ended."""
        return time_s - self._begun_s <= self._answers_s

    def _is_near(self, cents: float, echo: _Echo) -> bool:
        """Whether the answer may have this pitch."""
        return any(_octaves_apart(cents - at) <= self._settings.near_cents for at in echo.pitches)

    def _is_player(self, time_s: float, level_db: float, echo: _Echo) -> bool:
        """Whether it is as loud as the player was, has risen out of the answer, was struck since, or does not fade."""
        return (
            level_db > echo.player_db - self._settings.back_db
            or level_db > echo.heard_db + self._settings.rise_db
            or self._struck_s >= echo.since_s
            or time_s - echo.moved_s >= self._answers_s + _FADES_S
        )

    def _watch(self, time_s: float, level_db: float) -> None:
        """Take the level of one frame of the note that sounds; far down at once, it may have ended."""
        levels = self._levels
        levels.append((time_s, level_db))
        while time_s - levels[0][0] > self._drop_s:
            levels.popleft()
        before_db = max(level for _, level in levels)
        if self._echo is None and level_db < before_db - self._settings.drop_db:
            self._echo = self._answer(time_s, before_db, level_db, sure=False)

    def _answer(self, time_s: float, player_db: float, heard_db: float, *, sure: bool) -> _Echo:
        """The note that sounded, as it may come back."""
        late = [pitch for at_s, pitch in self._sent if time_s - at_s <= self._answers_s]
        late = late or [pitch for _, pitch in self._sent][-1:]
        return _Echo(time_s, player_db, heard_db, self._own, tuple(_few(late)), sure, time_s, heard_db)

    def _note_pitch(self, inflection: Inflection) -> None:
        """Remember the pitch that the synth was sent."""
        cents = CENTS_PER_OCTAVE * math.log2(midi_to_hz(self._midi)) + self._sent_cents(inflection.bend_cents)
        self._sent.append((inflection.time_s, cents))
        while inflection.time_s - self._sent[0][0] > self._answers_s:
            self._sent.popleft()


class Pause:
    """Frames are silent while the program itself sounds a model; stream times in seconds."""

    def __init__(self) -> None:
        self._from_s = self._until_s = math.inf

    def begin(self, time_s: float) -> None:
        """From ``time_s`` on nothing is heard, until :meth:`end`."""
        self._from_s, self._until_s = time_s, math.inf

    def end(self, time_s: float, tail_s: float) -> None:
        """The model ends at ``time_s``; ``tail_s`` is the delay of loudspeaker and room, heard as little."""
        self._until_s = time_s + tail_s

    def step(self, frame: PitchFrame) -> PitchFrame:
        """The frame, silent inside the pause. Without an attack: a note held meanwhile begins anew after it."""
        if self._from_s <= frame.ready_s < self._until_s:
            return replace(frame, hz=0.0, level_db=SILENCE_DB, attack=False, second_hz=0.0, reeds=1)
        return frame


def _octaves_apart(cents: float) -> float:
    """How far an interval is from the nearest number of octaves, cents."""
    return abs((cents + CENTS_PER_OCTAVE / 2.0) % CENTS_PER_OCTAVE - CENTS_PER_OCTAVE / 2.0)


def _few(pitches: Iterable[float]) -> list[float]:
    """The lowest, the highest and what lies between them at steps of a semitone, cents."""
    every = sorted(pitches)
    kept: list[float] = []
    for pitch in every:
        if not kept or pitch - kept[-1] >= _CENTS_PER_SEMITONE or pitch == every[-1]:
            kept.append(pitch)
    return kept
