"""Settings of what is kept."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from bridge.takes.breakpoints import Tolerance
from bridge.takes.tempo import FASTEST, MOST_QUARTERS_IN_BAR, SLOWEST


class TakeSettings(BaseModel):
    """How densely and how safely a live take is written; a transcription keeps every frame."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    curve_rows_per_second: float = Field(
        250.0, ge=10.0, le=10_000.0, description="most rows of curve.csv for each second of a live take"
    )
    flush_s: float = Field(
        0.25, gt=0.0, le=10.0, description="whole lines of curve.csv and the sound reach the disk this often, s"
    )
    keep_sound: bool = Field(default=True, description="keep the sound in sound.wav")
    breakpoint_cents: float = Field(
        3.0, ge=0.1, le=50.0, description="breakpoints of inflections.csv stay this near to each frame's pitch, cents"
    )
    # About 1.5 dB between soft and hard playing as they are usually set: a difference in loudness that is hardly heard
    # inside a note (common practice, no source). A 7-bit controller has steps of 0.008.
    breakpoint_breath: float = Field(
        0.04, ge=0.002, le=0.5, description="breakpoints stay this near to each frame's breath, 0..1"
    )
    # General MIDI Level 1 (RP-003) counts programs from 1 and has the harmonica as 23.
    midi_program: int | None = Field(
        22, ge=0, le=127, description="program of performance.mid, counted from 0: 22 = harmonica; null = none"
    )
    tempo: Literal["auto"] | Annotated[float, Field(ge=SLOWEST, le=FASTEST, allow_inf_nan=False)] | None = Field(
        None, description="quarters a minute; auto = estimated from where notes begin; null = none known"
    )
    bar_1_s: float | None = Field(
        None,
        ge=-36000.0,
        le=36000.0,
        allow_inf_nan=False,
        description="where bar 1 begins, s; null = at the first note",
    )
    quarters_in_bar: int = Field(4, ge=1, le=MOST_QUARTERS_IN_BAR, description="quarters in a bar")
    slide_cents: float = Field(
        60.0, ge=30.0, le=400.0, description="the score has a slide where a note moves by more than this, cents"
    )

    @property
    def breakpoint_tolerance(self) -> Tolerance:
        """How near breakpoints keep to a curve."""
        return Tolerance(self.breakpoint_cents, self.breakpoint_breath)
