"""The settings of the harp in the player's hands."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, Field, field_validator

from bridge.base.errors import UserError
from bridge.harp.keys import find_key
from bridge.harp.layout import find_layout
from bridge.harp.positions import find_position

_T = TypeVar("_T")


class HarpSettings(BaseModel):
    """Which harp is played, in which position and at which pitch."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    key: str = Field(
        default="C",
        description="Key of the harp: G Ab A Bb B C Db D Eb E F F#, low-C to low-F#, or high-G.",
    )
    position: int | str = Field(
        default=2,
        description="Position, 1 to 12 or its name (first, cross, third ...): which note of the harp is the root.",
    )
    a4_hz: float = Field(default=440.0, ge=400.0, le=480.0, description="Pitch of A4 on this harp, Hz.")
    layout: str = Field(default="richter", description="Order of the notes in the holes, by its name in the trade.")

    @field_validator("key")
    @classmethod
    def _key(cls, value: str) -> str:
        return _checked(lambda: find_key(value).name)

    @field_validator("position")
    @classmethod
    def _position(cls, value: int | str) -> int:
        return _checked(lambda: find_position(value))

    @field_validator("layout")
    @classmethod
    def _layout(cls, value: str) -> str:
        return _checked(lambda: find_layout(value).name)


def _checked(find: Callable[[], _T]) -> _T:
    """The result of ``find``, its UserError turned into the ValueError that pydantic collects."""
    try:
        return find()
    except UserError as error:
        raise ValueError(str(error)) from error
