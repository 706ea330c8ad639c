"""The harp file: one harp as it was measured or as its owner describes it, in plain data for YAML.

    format: 1
    date: 2026-11-25
    key: A
    layout: richter
    a4_hz: 442.3
    temperament: just-7-limit
    reeds:
      draw 2: {offset_cents: 1.4, spread_cents: 0.6}
      draw 3: {offset_cents: -12.9}
    breath: {soft_db: -38.0, hard_db: -14.0, fall_cents: 7.5}

Reeds that are not listed follow ``temperament``; a table of all of them needs none.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from bridge.base.errors import ManyFaultsError, SettingError, UserError
from bridge.base.yaml_file import KeyPath
from bridge.harp.bends import Air
from bridge.harp.harp import Harp, make_harp
from bridge.harp.keys import find_key
from bridge.harp.layout import Layout, Where
from bridge.harp.temperaments import Temperament

FORMAT = 1

_DATE = re.compile(r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])")
_REED = re.compile(r"(blow|draw) ([1-9]\d?)")
_AIRS: Mapping[str, Air] = {"blow": "blow", "draw": "draw"}
_CLOSED = ConfigDict(extra="forbid", frozen=True)


class ReedTuning(BaseModel):
    """How one reed sounds, played straight, between soft and hard."""

    model_config = _CLOSED

    offset_cents: float = Field(ge=-100.0, le=100.0, description="Cents from equal temperament at a4_hz.")
    spread_cents: float | None = Field(
        default=None, ge=0.0, le=200.0, description="How far single hearings lay from that, standard deviation, cents."
    )


class BreathFall(BaseModel):
    """How the pitch falls with breath: in a straight line over the level, from soft to hard."""

    model_config = _CLOSED

    soft_db: float = Field(ge=-120.0, le=0.0, description="Level of soft playing, dBFS.")
    hard_db: float = Field(ge=-120.0, le=0.0, description="Level of hard playing, dBFS.")
    fall_cents: float = Field(ge=-100.0, le=100.0, description="Cents that hard playing sounds flatter than soft.")

    @model_validator(mode="after")
    def _rising(self) -> BreathFall:
        if self.soft_db >= self.hard_db:
            raise ValueError("soft_db below hard_db")
        return self


def _reed_name(name: str) -> str:
    if not _REED.fullmatch(name):
        raise ValueError("blow or draw and the hole, such as 'draw 2'")
    return name


class HarpFile(BaseModel):
    """One harp: what it is, and the reeds that were heard."""

    model_config = _CLOSED

    format: int = Field(description="Format of this file.")
    date: str = Field(description="Day on which it was measured, year-month-day.")
    key: str = Field(description="Key of the harp.")
    layout: str = Field(default="richter", description="Notes in the holes, by name or as a file.")
    a4_hz: float = Field(ge=400.0, le=480.0, description="Pitch of A4 on this harp, Hz.")
    temperament: Temperament = Field(default="equal", description="Tuning of the reeds that are not listed.")
    reeds: Mapping[Annotated[str, AfterValidator(_reed_name)], ReedTuning] = Field(
        default={}, description="Reeds that were heard, each by its air and hole, such as 'draw 2'."
    )
    breath: BreathFall | None = Field(default=None, description="How the pitch falls with breath, where known.")

    @field_validator("date", mode="before")
    @classmethod
    def _date(cls, value: object) -> str:
        # YAML makes a date of it, and str of a date is the year-month-day it was.
        if not _DATE.fullmatch(str(value)):
            raise ValueError("a day as year-month-day, such as 2026-11-25")
        return str(value)

    @field_validator("key")
    @classmethod
    def _key(cls, value: str) -> str:
        try:
            return find_key(value).name
        except UserError as error:
            raise ValueError(str(error).rpartition(": ")[2].rstrip(".")) from error


def read_harp_file(plain: Mapping[str, object], where: Where = lambda _key: "the harp file") -> HarpFile:
    """The harp file in a plain mapping; ``where`` says how to call the place of a key.

    Raises SettingError naming place, key, what was found and what is allowed, ManyFaultsError of them when several
    things are wrong, and UserError for a format newer than ours.
    """
    number = plain.get("format")
    if type(number) is int and number > FORMAT:
        raise UserError(
            f"{where(('format',))}: this harp file has format {number}, this reedwire reads up to {FORMAT}. "
            "Install a newer reedwire to use it."
        )
    if type(number) is not int or number != FORMAT:
        raise SettingError(where=where(("format",)), key="format", found=number, allowed=f"{FORMAT}, a harp file")
    try:
        return HarpFile.model_validate(plain)
    except ValidationError as error:
        faults = [_in_words(problem, where) for problem in error.errors(include_url=False)]
        raise faults[0] if len(faults) == 1 else ManyFaultsError(faults) from error


def plain_harp_file(file: HarpFile) -> dict[str, object]:
    """The file as a plain mapping in the order of its keys, what is not known left out; reads back as the same."""
    return file.model_dump(mode="json", exclude_none=True)


def harp_from_file(file: HarpFile, position: int | str, layout: Layout) -> Harp:
    """The harp of the file, played in ``position``; ``layout`` is what its ``layout`` names.

    Raises UserError for a reed that the layout does not have, and for a position that there is not.
    """
    measured: dict[tuple[int, Air], float] = {}
    for name, tuning in file.reeds.items():
        air, hole = name.split(" ")
        if int(hole) > len(layout.blow):
            raise UserError(
                f"The harp file has a reed {name!r}; layout {layout.name} has holes 1 to {len(layout.blow)}."
            )
        measured[int(hole), _AIRS[air]] = tuning.offset_cents
    return make_harp(file.key, position, file.a4_hz, layout, file.temperament, measured)


def _in_words(problem: Mapping[str, Any], where: Where) -> SettingError:
    """One of pydantic's findings as our own message."""
    key: KeyPath = tuple(part for part in problem["loc"] if part != "[key]")
    found, allowed = problem["input"], str(problem["msg"]).removeprefix("Value error, ")
    group = HarpFile if len(key) == 1 else _GROUPS[str(key[0])]
    match problem["type"]:
        case "extra_forbidden":
            found, allowed = key[-1], "one of: " + ", ".join(group.model_fields)
        case "missing":
            found, allowed = None, "a value; it may not be left out"
        case "model_type":
            allowed = "these keys below it: " + ", ".join(_GROUPS[str(key[0])].model_fields)
        case "mapping_type" | "dict_type":
            allowed = "reeds below it, such as 'draw 2', each with " + ", ".join(_GROUPS[str(key[0])].model_fields)
        case "string_type":
            allowed = "a word"
        case "float_type" | "float_parsing" | "greater_than_equal" | "less_than_equal":
            limits = group.model_fields[str(key[-1])].metadata
            low, high = (
                next(getattr(limit, name) for limit in limits if hasattr(limit, name)) for name in ("ge", "le")
            )
            allowed = f"a number from {low} to {high}"
        case _:
            allowed = allowed.removeprefix("Input should be ")
    return SettingError(where=where(key), key=".".join(map(str, key)), found=found, allowed=allowed)


_GROUPS: Mapping[str, type[BaseModel]] = {"reeds": ReedTuning, "breath": BreathFall}
