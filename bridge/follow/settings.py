"""Settings of the follower: what it may hear and how long it looks."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator


class GateSettings(BaseModel):
    """When something sounds at all; the level counts after a high-pass at 0.45 x floor."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    open_db: float = Field(
        -50.0, ge=-110, le=-10, description="dBFS above which a sound may begin, after a high-pass at 0.45 x floor"
    )
    close_db: float = Field(
        -56.0, ge=-115, le=-12, description="dBFS below which what sounds has ended, after the same high-pass"
    )

    @model_validator(mode="after")
    def _in_order(self) -> GateSettings:
        """A gate that closes above where it opens would chatter."""
        if not self.close_db < self.open_db:
            raise ValueError("close_db must lie below open_db")
        return self


class RestrikeSettings(BaseModel):
    """What makes a new note of a note at unchanged pitch: a sharp dip and a fresh attack."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    dip_db: float = Field(9.0, ge=1, le=40, description="dB that the loudness falls before the fresh attack")
    dip_ms: float = Field(24.0, ge=0, le=200, description="ms from loud to the fresh attack; an echo comes sooner")
    rise_db: float = Field(5.0, ge=1, le=40, description="dB that the fresh attack rises within rise_ms")
    return_db: float = Field(14.0, ge=0, le=60, description="dB under the level before the dip that it must return to")
    alone_db: float = Field(
        12.0, ge=3, le=60, description="dB within rise_ms that are an attack without any dip, as out of a room's noise"
    )
    rise_ms: float = Field(14.0, ge=3, le=50, description="ms in which it must rise; hand flutter is slower")


class AubioSettings(BaseModel):
    """The second follower, from the aubio library."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    method: Literal["yinfft", "yinfast", "yin", "fcomb", "mcomb", "schmitt"] = Field(
        "yinfft", description="aubio's name of the method: yinfft, yinfast, yin, fcomb, mcomb or schmitt"
    )
    window: int = Field(1024, ge=256, le=8192, description="samples of one window")
    hop: int = Field(128, ge=32, le=1024, description="samples from one estimate to the next")

    @model_validator(mode="after")
    def _aubio_takes_it(self) -> AubioSettings:
        """What the library itself would refuse later and less clearly."""
        if self.window & (self.window - 1):
            raise ValueError("window must be a power of two: 256, 512, 1024, 2048, 4096 or 8192")
        if self.hop > self.window // 2:
            raise ValueError("hop must be at most half of window")
        return self


class FollowSettings(BaseModel):
    """Everything that can be set of the stage ``follow``."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    follower: Literal["own", "aubio"] = Field("own", description="own: made for reeds; aubio: the library's")
    floor_hz: Annotated[float, Field(ge=80, le=1000)] | Literal["auto"] = Field(
        "auto", description="Hz, lowest pitch followed (80..1000); auto = the harp's lowest note less a semitone"
    )
    ceiling_hz: float = Field(3300.0, ge=200, le=3300, description="Hz, highest pitch followed")
    window_periods: float = Field(2.6, ge=2, le=8, description="periods of the note that one estimate looks at")
    window_ms: float = Field(6.3, ge=3, le=40, description="ms that it looks at in any case (rules for high notes)")
    confidence: float = Field(0.85, ge=0.3, le=0.999, description="0..1 likeness of two periods for a note to begin")
    hold_confidence: float = Field(0.6, ge=0.2, le=0.999, description="0..1 likeness that keeps a note sounding")
    dull: bool = Field(
        default=True,
        description="dull sound may be a harp: hands, bullet or narrow microphones; false where people sing",
    )
    gate: GateSettings = GateSettings()
    restrike: RestrikeSettings = RestrikeSettings()
    aubio: AubioSettings = AubioSettings()

    @model_validator(mode="after")
    def _in_order(self) -> FollowSettings:
        """What begins a note must be at least as sure as what keeps it."""
        if self.hold_confidence > self.confidence:
            raise ValueError("hold_confidence must not lie above confidence")
        return self
