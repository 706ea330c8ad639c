"""What becomes of a pitch when more than one reed sounds: a bridge plays one note at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bridge.base.events import PitchFrame
from bridge.base.units import SILENCE_DB

#: A pitch that was put in the place of the follower's is at least this sure.
_CONFIDENCE = 0.9


class DoubleStopSettings(BaseModel):
    """Double stops, and notes that are not clean."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    keep: Literal["lower", "upper", "hold", "mute"] = Field(
        default="lower", description="Of two reeds at once: lower, upper, hold what sounded before, or mute."
    )
    unclean: Literal["pass", "mark", "hold back"] = Field(
        default="mark", description="Unclean notes: pass as if clean, mark them, or hold them back."
    )
    clean_least: float = Field(default=0.5, ge=0.0, le=1.0, description="Less clean than this is unclean, 0..1.")


class DoubleStops:
    """Gives each frame the one pitch that is played: of two reeds the one the settings keep.

    Of three or more reeds what sounded goes on, if anything did. A frame with 0 Hz plays nothing.
    """

    def __init__(self, settings: DoubleStopSettings) -> None:
        self._settings = settings
        self._sounded_hz = 0.0

    def step(self, frame: PitchFrame) -> PitchFrame:
        """The frame as it is to be played; ``clean``, ``second_hz`` and ``reeds`` stay unless unclean notes pass."""
        if frame.level_db <= SILENCE_DB:
            self._sounded_hz = 0.0
            return frame
        hz = self._kept_hz(frame)
        if frame.clean < self._settings.clean_least and self._settings.unclean == "hold back":
            hz = 0.0
        if hz > 0.0:
            self._sounded_hz = hz
        if hz != frame.hz:
            holds = frame.reeds > 2 or self._settings.keep == "hold"
            confidence = max(frame.confidence, _CONFIDENCE) if hz else 0.0
            frame = replace(frame, hz=hz, confidence=confidence, attack=frame.attack and not holds)
        if self._settings.unclean == "pass":
            return replace(frame, clean=1.0, second_hz=0.0, reeds=1)
        return frame

    def _kept_hz(self, frame: PitchFrame) -> float:
        """The pitch to be played, 0 for none."""
        if frame.reeds > 2:
            return self._sounded_hz
        if frame.second_hz <= 0.0:
            return frame.hz
        match self._settings.keep:
            case "lower":
                return min(frame.hz, frame.second_hz) if frame.hz > 0.0 else frame.second_hz
            case "upper":
                return max(frame.hz, frame.second_hz)
            case "hold":
                return self._sounded_hz
            case "mute":
                return 0.0
