"""What becomes of a pitch when more than one reed sounds: a bridge plays one note at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bridge.base.events import PitchFrame
from bridge.base.units import SILENCE_DB

#: A pitch that was put in the place of the follower's is at least this sure.
_CONFIDENCE = 0.9
#: One reed alone for so long is a note that can be held, seconds. It takes half as long to tell that more sound, and
#: until then their pitch may be that of a period they have in common: nobody played that.
_ALONE_S = 0.1
#: From frame to frame one reed's pitch moves no farther than this, as a part of it.
_SAME_REED = 0.03


class DoubleStopSettings(BaseModel):
    """Double stops, and notes that are not clean."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    keep: Literal["lower", "upper", "hold", "mute"] = Field(
        default="lower", description="Of two reeds at once: lower, upper, hold what sounded before, or mute."
    )
    unclean: Literal["pass", "mark", "hold back"] = Field(
        default="mark",
        description="Unclean notes, every double stop among them: pass as if clean, mark them, or hold them back.",
    )
    clean_least: float = Field(default=0.5, ge=0.0, le=1.0, description="Less clean than this is unclean, 0..1.")


class DoubleStops:
    """Gives each frame the one pitch that is played: of two reeds the one the settings keep.

    Of three or more reeds the note that sounded before goes on; where none did they are taken as two are. A frame with
    0 Hz plays nothing.
    """

    def __init__(self, settings: DoubleStopSettings) -> None:
        self._settings = settings
        self._last_hz = 0.0
        self._alone_since_s = 0.0
        self._sounded_hz = 0.0

    def step(self, frame: PitchFrame) -> PitchFrame:
        """The frame as it is to be played; ``clean``, ``second_hz`` and ``reeds`` stay unless unclean notes pass."""
        if frame.level_db <= SILENCE_DB:
            self._last_hz = self._sounded_hz = 0.0
            return frame
        self._listen(frame)
        holds = frame.reeds > 1 and self._holds(frame)
        hz = self._held_hz(frame) if holds else self._kept_hz(frame)
        if holds or frame.reeds > 2:
            self._sounded_hz = hz
        if frame.clean < self._settings.clean_least and self._settings.unclean == "hold back":
            hz = 0.0
        if hz != frame.hz:
            confidence = max(frame.confidence, _CONFIDENCE) if hz else 0.0
            # Muted is silent: a pitch that is only lost would be waited for.
            muted = not hz and self._settings.keep == "mute" and frame.second_hz > 0.0
            level_db = SILENCE_DB if muted else frame.level_db
            frame = replace(frame, hz=hz, level_db=level_db, confidence=confidence)
        if self._settings.unclean == "pass":
            return replace(frame, clean=1.0, second_hz=0.0, reeds=1)
        return frame

    def _listen(self, frame: PitchFrame) -> None:
        """Take note of a reed that has sounded alone for long enough."""
        alone_hz = frame.hz if frame.reeds == 1 else 0.0
        if frame.attack or abs(alone_hz - self._last_hz) > _SAME_REED * self._last_hz or not alone_hz:
            self._alone_since_s = frame.time_s
        elif frame.time_s - self._alone_since_s >= _ALONE_S:
            self._sounded_hz = alone_hz
        self._last_hz = alone_hz

    def _holds(self, frame: PitchFrame) -> bool:
        """Whether what sounded before is to go on, or nothing if nothing did."""
        return self._settings.keep == "hold" or (frame.reeds > 2 and self._sounded_hz > 0.0)

    def _held_hz(self, frame: PitchFrame) -> float:
        """The pitch that goes on: that of the reed itself as long as it is one of the two that are named."""
        held = self._sounded_hz
        return next((hz for hz in (frame.hz, frame.second_hz) if abs(hz - held) < _SAME_REED * held), held)

    def _kept_hz(self, frame: PitchFrame) -> float:
        """The pitch of those that sound that is to be played, 0 for none."""
        if frame.second_hz <= 0.0:
            return frame.hz
        match self._settings.keep:
            case "upper":
                return max(frame.hz, frame.second_hz)
            case "mute":
                return 0.0
            case _:
                return min(frame.hz, frame.second_hz) if frame.hz > 0.0 else frame.second_hz
