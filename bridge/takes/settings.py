"""Settings of what is kept."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


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
    # General MIDI Level 1 (RP-003) counts programs from 1 and has the harmonica as 23.
    midi_program: int | None = Field(
        22, ge=0, le=127, description="program of performance.mid, counted from 0: 22 = harmonica; null = none"
    )
