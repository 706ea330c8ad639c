"""Settings of MIDI out: port, one channel or MPE, and which controller carries what, how finely and how often."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Literal, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from bridge.send.catalogue import catalogue, default_controller

#: Controllers that would change the bend range or the bank instead of a value: bank select 0 and 32, data entry
#: 6 and 38, data increment to RPN select 96-101 (MIDI 1.0 Detailed Specification 4.2.1, table III).
RESERVED_CONTROLLERS = frozenset({0, 6, 32, 38, *range(96, 102)})
#: Hold pedal, sostenuto and second hold pedal (MIDI 1.0, table III): from 64 up a note that has ended sounds on.
HOLDING_CONTROLLERS = frozenset({64, 66, 69})
#: Controllers below this number have a fine half (MIDI 1.0, table III).
_PAIRED_BELOW = 32

Controlled = Literal["breath", "bright", "blueness", "lean"]
Thinned = Literal["bend", "breath", "bright", "blueness", "lean"]


def _off_is_none(value: object) -> object:
    """YAML reads the word ``off`` as False, which must not become controller 0."""
    return None if value is False else value


_Number = Annotated[int, Field(ge=1, le=119, strict=True)]
Controller = Annotated[_Number | None, BeforeValidator(_off_is_none)]
BreathMessage = Annotated[_Number | Literal["pressure"] | None, BeforeValidator(_off_is_none)]
Milliseconds = Annotated[float, Field(ge=0.0, le=1000.0)]


class MidiSettings(BaseModel):
    """One MIDI port: one channel or an MPE zone, bend range, and which controller carries what (null = off)."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    port: str = Field(
        "auto",
        min_length=1,
        description="auto (our own virtual port where the machine has MIDI), virtual, none, or a port's name",
    )
    mode: Literal["single", "mpe"] = Field(
        "single", description="single: one channel. mpe: a lower zone, each note on a channel of its own"
    )
    channel: int = Field(1, ge=1, le=16, description="MIDI channel, 1..16; with mpe the manager is channel 1")
    bend_range: int = Field(
        2,
        ge=1,
        le=96,
        description="pitch bend range each way, semitones; sent as RPN 0; transcribe takes 12 unless told",
    )
    members: int = Field(
        default_factory=lambda: catalogue().mpe.members,
        ge=1,
        le=15,
        description="member channels of the MPE zone, 2 and up",
    )
    member_bend_range: int = Field(
        default_factory=lambda: catalogue().mpe.member_bend_range,
        ge=1,
        le=96,
        description="bend range of each member with mpe, semitones",
    )
    breath: BreathMessage = Field(
        default_factory=partial(default_controller, "breath"),
        description="controller of the breath, pressure for channel pressure, or null for off",
    )
    mpe_breath: Literal["pressure", "controller"] = Field(
        "pressure",
        description="with mpe the breath goes out as channel pressure, or as its controller, on the note's own channel",
    )
    bright: Controller = Field(
        default_factory=partial(default_controller, "bright"),
        description="controller of the brightness, or null for off",
    )
    blueness: Controller = Field(
        default_factory=partial(default_controller, "blueness"),
        description="controller of the blueness, or null for off",
    )
    lean: Controller = Field(
        default_factory=partial(default_controller, "lean"),
        description="controller of the lean (64 = on the target), or null for off",
    )
    fourteen_bit: bool | tuple[Controlled, ...] = Field(
        default=False,
        description="controllers 1..31 also send their fine half on number + 32: true, or a list: [breath, lean]",
    )
    bytes_per_second: int | None = Field(
        2500, ge=100, le=1_000_000, description="byte budget of the port, bytes a second; null = no limit"
    )
    interval_ms: float = Field(
        4.0, ge=0.0, le=100.0, description="least time between two values of one controller, ms; 0 = every frame"
    )
    thin: dict[Thinned, Milliseconds] = Field(
        default_factory=dict, description="the same for single ones, ms, such as {bright: 20, blueness: 50}"
    )
    active_sensing: bool = Field(
        default=False, description="send Active Sensing, so that a receiver ends its notes should the machine stop"
    )

    @model_validator(mode="after")
    def _controllers_differ(self) -> MidiSettings:
        """Two values on one controller would overwrite each other."""
        used: dict[int, str] = {}
        # Also of a breath that is pressure with mpe alone: a take's MIDI file has it on its controller.
        numbers = list(self.controllers.items())
        fine = [(f"the fine half of {name}", number + _PAIRED_BELOW) for name, number in numbers if self.is_fine(name)]
        for name, number in [*numbers, *fine]:
            if number in used:
                both = f"{used[number]} and {name} are both on controller {number}"
                raise ValueError(f"{both}: each needs a controller of its own")
            used[number] = name
        if bad := sorted(RESERVED_CONTROLLERS.intersection(used)):
            raise ValueError(f"controller {bad[0]} selects banks or parameters in MIDI: take another one")
        if bad := sorted(HOLDING_CONTROLLERS.intersection(used)):
            raise ValueError(f"controller {bad[0]} is a pedal that keeps ended notes sounding: take another one")
        return self

    @model_validator(mode="after")
    def _the_zone_has_its_channels(self) -> MidiSettings:
        """The lower zone begins on channel 1."""
        if self.mode == "mpe" and self.channel != 1:
            raise ValueError("with mpe the channels are 1 and, from 2 up, the members: leave channel out")
        return self

    @model_validator(mode="after")
    def _mpe_breath_has_a_controller(self) -> MidiSettings:
        """Who asks for the controller must have said which."""
        if self.mpe_breath == "controller" and self.breath == "pressure":
            raise ValueError(
                "mpe_breath asks for a controller and breath for pressure: give breath a controller, or null"
            )
        return self

    @model_validator(mode="after")
    def _fine_halves_exist(self) -> MidiSettings:
        """Who asks for 14 bits by name must be told where there are none."""
        if isinstance(self.fourteen_bit, bool):
            return self
        for name in self.fourteen_bit:
            if name == "breath" and self.breath_is_pressure:
                raise ValueError("the breath is channel pressure, which has 7 bits: leave it out of the list")
            number = self.controllers.get(name)
            if number is not None and number >= _PAIRED_BELOW:
                raise ValueError(f"controller {number} ({name}) has no fine half: only 1 to 31 have one")
        return self

    @property
    def breath_controller(self) -> int | None:
        """The controller of the breath wherever it is not pressure; None when it has none."""
        return None if self.breath == "pressure" else self.breath

    @property
    def breath_is_pressure(self) -> bool:
        """Whether the breath goes out as channel pressure."""
        by_mpe = self.mode == "mpe" and self.mpe_breath == "pressure" and self.breath is not None
        return by_mpe or self.breath == "pressure"

    @property
    def values(self) -> tuple[Controlled, ...]:
        """Every value that is not switched off, besides the bend, in wire order."""
        return tuple(name for name in get_args(Controlled) if getattr(self, name) is not None)

    @property
    def controllers(self) -> dict[Controlled, int]:
        """The controller of every value that has one; with mpe the breath may go out as pressure all the same."""
        numbers: dict[Controlled, int | None] = {
            "breath": self.breath_controller,
            "bright": self.bright,
            "blueness": self.blueness,
            "lean": self.lean,
        }
        return {name: number for name, number in numbers.items() if number is not None}

    @property
    def sent_bend_range(self) -> int:
        """Semitones each way of the bends that notes get."""
        return self.member_bend_range if self.mode == "mpe" else self.bend_range

    @property
    def channels(self) -> tuple[int, ...]:
        """Every channel that is used, 1..16, with mpe the manager first."""
        return tuple(range(1, self.members + 2)) if self.mode == "mpe" else (self.channel,)

    def is_fine(self, name: Controlled) -> bool:
        """Whether ``name`` is sent with 14 bits."""
        number = self.controllers.get(name)
        if number is None or number >= _PAIRED_BELOW or (name == "breath" and self.breath_is_pressure):
            return False
        return self.fourteen_bit if isinstance(self.fourteen_bit, bool) else name in self.fourteen_bit

    def least_interval_s(self, name: Thinned) -> float:
        """Least time between two values of ``name``, in seconds."""
        return self.thin.get(name, self.interval_ms) / 1000.0

    def on_one_channel(self) -> MidiSettings:
        """The same with every note on one channel, and the range of bends that notes get: for a file."""
        return self.model_copy(update={"mode": "single", "bend_range": self.sent_bend_range})
