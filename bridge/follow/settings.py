"""Settings of the follower: what it may hear and how long it looks."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class GateSettings(BaseModel):
    """When something sounds at all."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    open_db: float = Field(-50.0, ge=-110, le=-10, description="dBFS above which a sound may begin")
    close_db: float = Field(-56.0, ge=-115, le=-12, description="dBFS below which what sounds has ended")


class RestrikeSettings(BaseModel):
    """What makes a new note of a note at unchanged pitch: a sharp dip and a fresh attack."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    dip_db: float = Field(10.0, ge=1, le=40, description="dB that the level falls before the fresh attack")
    dip_ms: float = Field(24.0, ge=0, le=200, description="ms from loud to the fresh attack; an echo comes sooner")
    rise_db: float = Field(5.0, ge=1, le=40, description="dB that the fresh attack rises within rise_ms")
    return_db: float = Field(14.0, ge=0, le=60, description="dB under the level before the dip that it must return to")
    rise_ms: float = Field(14.0, ge=3, le=50, description="ms in which it must rise; hand flutter is slower")


class AubioSettings(BaseModel):
    """The second follower, from the aubio library."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    method: Literal["yinfft", "yinfast", "yin", "fcomb", "mcomb", "schmitt"] = Field(
        "yinfft", description="aubio's name of the method"
    )
    window: int = Field(1024, ge=256, le=8192, description="samples of one window")
    hop: int = Field(128, ge=32, le=1024, description="samples from one estimate to the next")


class FollowSettings(BaseModel):
    """Everything that can be set of the stage ``follow``."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    follower: Literal["own", "aubio"] = Field("own", description="own: made for reeds; aubio: the library's")
    floor_hz: float | Literal["auto"] = Field(
        "auto", description="Hz, lowest pitch followed (80..1000); auto = the harp's lowest note less a semitone"
    )
    ceiling_hz: float = Field(3300.0, ge=200, le=3300, description="Hz, highest pitch followed")
    window_periods: float = Field(2.6, ge=2, le=8, description="periods of the note that one estimate looks at")
    window_ms: float = Field(6.6, ge=3, le=40, description="ms that it looks at in any case (rules for high notes)")
    confidence: float = Field(0.85, ge=0.3, le=0.999, description="0..1 likeness of two periods for a note to begin")
    hold_confidence: float = Field(0.6, ge=0.2, le=0.999, description="0..1 likeness that keeps a note sounding")
    gate: GateSettings = GateSettings()
    restrike: RestrikeSettings = RestrikeSettings()
    aubio: AubioSettings = AubioSettings()
