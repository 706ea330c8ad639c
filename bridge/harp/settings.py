"""The settings of the harp in the player's hands."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Annotated, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator

from bridge.base.errors import UserError
from bridge.harp.keys import KEYS, find_key, is_key
from bridge.harp.positions import find_position
from bridge.harp.tab import Convention
from bridge.harp.temperaments import Temperament

_T = TypeVar("_T")
#: Under this word pydantic's context may hold a function that knows the layouts there are: it takes what was given for
#: ``layout`` and returns its name, or raises UserError with what is allowed.
LAYOUT_FINDER = "layout"
#: What stands for something that is to be found from what is played.
AUTO = "auto"
#: No harp's A4 lies outside, Hz.
LOWEST_A4, HIGHEST_A4 = 400.0, 480.0

_Seconds = Annotated[float, Field(ge=0.0)]
_A4 = Annotated[float, Field(ge=LOWEST_A4, le=HIGHEST_A4)]


class HarpSettings(BaseModel):
    """Which harp is played, in which position and at which pitch."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    key: str = Field(
        default="C",
        description="Key of the harp: G Ab A Bb B C Db D Eb E F F#, low-C to low-F#, or high-G; auto = key, position "
        "and A4 are found from what is played.",
    )
    position: int | str = Field(
        default=2,
        description="Position, 1 to 12 or its name (first, cross, third ...): which note of the harp is the root.",
    )
    a4_hz: float = Field(default=440.0, ge=LOWEST_A4, le=HIGHEST_A4, description="Pitch of A4 on this harp, Hz.")
    layout: str = Field(
        default="richter",
        description="Notes in the holes: richter, country, diminished, dorian, harmonic-minor, natural-minor, "
        "paddy-richter, solo, or a YAML file of your own with the rows blow and draw.",
    )
    temperament: Temperament = Field(
        default="equal",
        description="How the reeds are tuned to one another: equal, just-5-limit, just-7-limit, just-19-limit, or "
        "compromise.",
    )
    file: str | None = Field(
        default=None,
        description="Harp file in place of all of this but the position: a .yaml file that says what the harp is and "
        "how its reeds sound; null = none.",
    )
    harps: tuple[str, ...] = Field(
        default=(),
        description="A set of harps to change between, keys and harp files, in place of key and file; the first is "
        "the one to begin with.",
    )
    tab: Convention = Field(
        default="signs",
        description="How tab is written: signs (-3'' +4), arrows (3↓'' 4↑), or letters (3D'' 4B).",
    )

    tune: Literal["as-set", "auto"] = Field(
        default="as-set",
        description="Where A4 comes from: as-set, or auto = from the straight notes that are played; harps with a harp "
        "file stay as they are.",
    )
    drift: tuple[tuple[_Seconds, _A4], ...] = Field(
        default=(),
        description="Where the A4 of a recording lies that drifts, pairs of seconds and Hz in order; in between it "
        "moves evenly; empty = it stays.",
    )

    @field_validator("key")
    @classmethod
    def _key(cls, value: str) -> str:
        return AUTO if value.strip().lower() == AUTO else _key_name(value)

    @field_validator("position")
    @classmethod
    def _position(cls, value: int | str) -> int:
        return _checked(lambda: find_position(value))

    @field_validator("file")
    @classmethod
    def _file(cls, value: str | None) -> str | None:
        if value is not None and not is_yaml_file(value):
            raise ValueError("a harp file, which ends in .yaml, or null")
        return value

    @field_validator("harps", mode="before")
    @classmethod
    def _one_line(cls, value: object) -> object:
        """``C, A, low-D`` is a list as well."""
        return tuple(name.strip() for name in value.split(",")) if isinstance(value, str) else value

    @field_validator("harps")
    @classmethod
    def _harps(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        odd = [name for name in value if not (is_yaml_file(name) or is_key(name))]
        if odd:
            keys = ", ".join(key.name for key in KEYS)
            raise ValueError(f"harp files (.yaml) and keys, of which {odd[0]!r} is none: {keys}")
        return tuple(name if is_yaml_file(name) else _key_name(name) for name in value)

    @field_validator("drift")
    @classmethod
    def _drift(cls, value: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        if any(after <= before for (before, _), (after, _) in pairwise(value)):
            raise ValueError("pairs of seconds and Hz, each later than the one before")
        return value

    @field_validator("layout")
    @classmethod
    def _layout(cls, value: str, info: ValidationInfo) -> str:
        find = (info.context or {}).get(LAYOUT_FINDER)
        return value if find is None else _checked(lambda: str(find(value)))


def is_yaml_file(name: str) -> bool:
    """Whether this is the name of a YAML file and not that of a key or layout."""
    return name.lower().endswith((".yaml", ".yml"))


def _key_name(value: str) -> str:
    return _checked(lambda: find_key(value).name)


def _checked(find: Callable[[], _T]) -> _T:
    """The result of ``find``, its UserError turned into the ValueError that pydantic collects."""
    try:
        return find()
    except UserError as error:
        raise ValueError(str(error)) from error
