"""Howl: the loudspeaker's sound that comes back through the microphone louder each time round.

What gain round the loop exceeds one at one frequency grows there exponentially, so its level rises along a straight
line in dB until something saturates, as a pure tone that does not move, without attack or breath (textbook theory of
feedback; H. Nyquist, Bell System Technical Journal 11 (1932) 126). No reed does all of that: even behind closed hands
it keeps overtones.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import replace

from pydantic import BaseModel, ConfigDict, Field

from bridge.base.events import PitchFrame
from bridge.base.units import CENTS_PER_OCTAVE

#: A steady tone is looked at again this often, in seconds: it costs more than a frame may.
_LOOK_EVERY_S = 0.02
#: Fewer frames than this make no line.
_FEWEST = 8
#: What noise may do to single frames of a tone that is only just heard: brightness 0..1 and cents RMS.
_NOISE_BRIGHT = 0.1
_NOISE_CENTS = 12.0
#: Overtones that come with an attack, no further apart than this, and stay so long, are the harp's; seconds. A knock's
#: are gone by then, and what a howl gets when it overloads the microphone comes without one.
_STRUCK_S, _PLAYED_S = 0.06, 0.03
#: So far under the howl it has broken off, and what comes next begins, attack or not; dB.
_BROKEN_DB = 9.0


class HowlSettings(BaseModel):
    """What is taken for a howl."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    listen: bool = Field(default=True, description="Whether a howl is looked for and silenced.")
    watch_ms: float = Field(
        default=250.0, ge=100.0, le=2000.0, description="A howl shows all its marks for so long, milliseconds."
    )
    rise_db_per_s: float = Field(default=4.0, gt=0.0, le=60.0, description="It rises at least this fast, dB a second.")
    uneven_db: float = Field(
        default=0.8, gt=0.0, le=6.0, description="Its level strays no further from a straight rise, dB RMS."
    )
    still_cents: float = Field(
        default=2.0, gt=0.0, le=20.0, description="Its pitch moves no more than this, cents, the noise of a room apart."
    )
    bright: float = Field(
        default=0.02, ge=0.0, le=1.0, description="It is no brighter than this on average, 0..1: a pure tone."
    )
    gone_ms: float = Field(
        default=300.0, ge=0.0, le=5000.0, description="It is over when it has not been heard for so long, milliseconds."
    )
    same_cents: float = Field(
        default=40.0, gt=0.0, le=200.0, description="What sounds this near the howl is the howl, cents."
    )


class HowlFilter:
    """Takes the pitch out of the frames of a howl and tells whether one sounds.

    Before it is recognised (``watch_ms`` after it can be heard) its frames pass; a note at another pitch passes always,
    whether the follower names it first or second, and so does one at the howl's pitch that is struck, and bright.
    """

    def __init__(self, settings: HowlSettings) -> None:
        self._settings = settings
        self._watch_s = settings.watch_ms / 1000.0
        self._tone: deque[tuple[float, float, float, float]] = deque()
        self._looked_s = -math.inf
        self._heard_s = -math.inf
        self._cents = 0.0
        #: When something was struck, and when the howl's pitch last had no overtones of its own, or was not heard.
        self._struck_s = self._dull_s = -math.inf
        self._loud_db = 0.0
        #: Stream time since when a howl sounds, None while there is none.
        self.since_s: float | None = None

    @property
    def howling(self) -> bool:
        """Whether a howl sounds now."""
        return self.since_s is not None

    def step(self, frame: PitchFrame) -> PitchFrame:
        """The frame, without its pitch and attack where it is the howl's, or with that of the reed beside it."""
        if not self._settings.listen:
            return frame
        if self.since_s is None:
            if frame.hz <= 0.0:
                self._tone.clear()
                return frame
            self._watch(frame, _cents(frame.hz))
        return self._without_howl(frame) if self.howling else frame

    def _without_howl(self, frame: PitchFrame) -> PitchFrame:
        time_s = frame.time_s
        first, second = self._is_howl(frame.hz), self._is_howl(frame.second_hz)
        if frame.attack or (not first and frame.level_db < self._loud_db - _BROKEN_DB):
            self._struck_s = time_s
        if not first or frame.second_hz > 0.0 or frame.bright <= _NOISE_BRIGHT:
            self._dull_s = time_s
        played = time_s - self._dull_s >= _PLAYED_S and abs(self._dull_s - self._struck_s) <= _STRUCK_S
        gone = not (first or second) and time_s - self._heard_s > self._settings.gone_ms / 1000.0
        if played or gone:
            self.since_s = None
            self._tone.clear()
            return frame
        if not (first or second):
            return frame
        self._heard_s = time_s
        if first:
            self._loud_db = max(self._loud_db, frame.level_db)
        hz = frame.hz if not first else 0.0 if second else frame.second_hz
        reeds = max(1, frame.reeds - 1) if hz else 1
        return replace(frame, hz=hz, attack=frame.attack and hz > 0.0, second_hz=0.0, reeds=reeds)

    def _is_howl(self, hz: float) -> bool:
        """Whether a pitch is that of the howl."""
        return hz > 0.0 and abs(_cents(hz) - self._cents) <= self._settings.same_cents

    def _watch(self, frame: PitchFrame, cents: float) -> None:
        """Look whether the newest frames are a howl's."""
        tone, time_s = self._tone, frame.time_s
        if frame.bright > _NOISE_BRIGHT:
            tone.clear()
            return
        if frame.attack or (tone and abs(cents - tone[-1][1]) > self._settings.same_cents):
            tone.clear()
        tone.append((time_s, cents, frame.level_db, frame.bright))
        while time_s - tone[0][0] > self._watch_s + _LOOK_EVERY_S:
            tone.popleft()
        if time_s - tone[0][0] < self._watch_s or time_s - self._looked_s < _LOOK_EVERY_S or len(tone) < _FEWEST:
            return
        self._looked_s = time_s
        if self._is_pure() and self._is_still() and self._rises():
            self.since_s = tone[0][0]
            self._loud_db = frame.level_db
            self._heard_s, self._cents = time_s, sum(item[1] for item in tone) / len(tone)

    def _is_pure(self) -> bool:
        """Whether the tone has no overtones to speak of."""
        return sum(item[3] for item in self._tone) <= self._settings.bright * len(self._tone)

    def _is_still(self) -> bool:
        """Whether the first and the second half of the tone have the same pitch, and neither is restless."""
        cents = [item[1] for item in self._tone]
        half = len(cents) // 2
        middle, before, after = (sum(part) / len(part) for part in (cents, cents[:half], cents[half:]))
        restless = math.sqrt(sum((one - middle) ** 2 for one in cents) / len(cents))
        return abs(after - before) <= self._settings.still_cents and restless <= _NOISE_CENTS

    def _rises(self) -> bool:
        """Whether the level keeps to a rising line."""
        count = len(self._tone)
        mean_s = sum(item[0] for item in self._tone) / count
        mean_db = sum(item[2] for item in self._tone) / count
        spread = sum((item[0] - mean_s) ** 2 for item in self._tone)
        slope = sum((item[0] - mean_s) * (item[2] - mean_db) for item in self._tone) / spread if spread else 0.0
        strays = sum((item[2] - mean_db - slope * (item[0] - mean_s)) ** 2 for item in self._tone)
        return slope >= self._settings.rise_db_per_s and math.sqrt(strays / count) <= self._settings.uneven_db


def _cents(hz: float) -> float:
    """Cents above 1 Hz."""
    return CENTS_PER_OCTAVE * math.log2(hz)
