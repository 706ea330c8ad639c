"""Settings of the capture stage: where the sound comes from."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class CaptureSettings(BaseModel):
    """Where the sound comes from and in what portions."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    input: str | Annotated[int, Field(ge=0)] = Field(
        default="default",
        description="Sound input: 'default', a device's number, part of its name, or a sound file.",
    )
    rate_hz: int = Field(
        default=48000,
        ge=8000,
        le=192000,
        description="Samples a second; a device that refuses it is used at its own rate.",
    )
    block: int = Field(
        default=128, ge=16, le=4096, description="Samples a block: what the sound card hands over at once."
    )
    channel: Literal["mix"] | Annotated[int, Field(ge=1, le=64)] = Field(
        default=1,
        description="Which channel of the sound card to take, counted from 1, or 'mix' for the mean of the first two.",
    )
    ring_seconds: float = Field(
        default=2.0,
        ge=0.1,
        le=60.0,
        description="Seconds of sound kept while the program is held up; beyond that samples are lost and counted.",
    )
    paced: bool = Field(
        default=True,
        description="Release a sound file or the rehearsal at the speed it sounds (false: as fast as possible).",
    )
