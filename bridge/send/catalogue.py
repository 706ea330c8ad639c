"""The contract with other programs, as ``shared/messages.yaml`` has it."""

from __future__ import annotations

from functools import cache, cached_property
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from bridge.base.errors import UserError
from bridge.base.resources import resource
from bridge.base.yaml_file import read_yaml

FILE = "messages.yaml"


class Argument(BaseModel):
    """One argument of an OSC message: its type tag, what it means, and unit and range where it has them."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str
    type: Literal["i", "f", "s"]
    means: str | float = Field(alias="is")
    unit: str | None = None
    range: tuple[float, float] | None = None


class OscForm(BaseModel):
    """One OSC message."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    address: str = Field(pattern=r"^(/[^ #*,/?\[\]{}]+)+$")
    about: str
    arguments: tuple[Argument, ...]

    @cached_property
    def types(self) -> str:
        """The type tags, without the comma."""
        return "".join(argument.type for argument in self.arguments)


class MidiValue(BaseModel):
    """One value as MIDI: the message on one channel, its controller if it is one, and where it goes with MPE."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    message: str
    controller: int | None = Field(None, ge=1, le=119)
    mpe: str
    range: tuple[int, int]
    about: str


class MpeZone(BaseModel):
    """The lower zone when nothing else is said: its manager channel, how many members, bend ranges in semitones."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    manager: Literal[1]
    manager_bend_range: int = Field(ge=1, le=96)
    member_bend_range: int = Field(ge=1, le=96)
    members: int = Field(ge=1, le=15)


class Catalogue(BaseModel):
    """Everything that goes out and comes in, by the names the code has for it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    version: int = Field(ge=1)
    osc_out: dict[str, OscForm]
    osc_in: dict[str, OscForm]
    midi: dict[str, MidiValue]
    mpe: MpeZone


@cache
def catalogue() -> Catalogue:
    """The contract; raises UserError that names file and line when the file is damaged."""
    file = read_yaml(resource("shared", FILE))
    try:
        return Catalogue.model_validate(file.data)
    except ValidationError as error:
        first = error.errors()[0]
        where = file.where(first["loc"])
        raise UserError(f"{where}: {first['msg']}. Install reedwire again, or mend {FILE}.") from error


def default_controller(value: str) -> int:
    """The controller that carries ``value`` (breath, bright, blueness, lean) when nothing else is said."""
    number = catalogue().midi[value].controller
    if number is None:
        raise UserError(f"shared/{FILE} gives {value} no controller. Install reedwire again, or mend it.")
    return number
