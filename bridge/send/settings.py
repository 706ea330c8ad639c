"""Settings of what is sent: MIDI port and controllers, OSC, how much of the bend; and what commands come in by."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator, model_validator

from bridge.send.address import parse_address

#: Controllers that would change the bend range or the bank instead of a value: bank select 0 and 32, data entry
#: 6 and 38, data increment to RPN select 96-101 (MIDI 1.0 Detailed Specification 4.2.1, table III).
RESERVED_CONTROLLERS = frozenset({0, 6, 32, 38, *range(96, 102)})


def _off_is_none(value: object) -> object:
    """YAML reads the word ``off`` as False, which must not become controller 0."""
    return None if value is False else value


def _digit_as_key(value: object) -> object:
    """YAML reads a digit as a number; here it is a key."""
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Controller = Annotated[Annotated[int, Field(ge=1, le=119, strict=True)] | None, BeforeValidator(_off_is_none)]


class MidiSettings(BaseModel):
    """One MIDI channel: port, bend range, and which controller carries what (null = off)."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    port: str = Field(
        "auto",
        min_length=1,
        description="auto (our own virtual port where the machine has MIDI), virtual, none, or a port's name",
    )
    channel: int = Field(1, ge=1, le=16, description="MIDI channel, 1..16")
    bend_range: int = Field(
        2,
        ge=1,
        le=96,
        description="pitch bend range each way, semitones; sent as RPN 0; transcribe takes 12 unless told",
    )
    breath: Controller = Field(11, description="controller of the breath, or null for off")
    bright: Controller = Field(74, description="controller of the brightness, or null for off")
    blueness: Controller = Field(20, description="controller of the blueness, or null for off")
    lean: Controller = Field(21, description="controller of the lean (64 = on the target), or null for off")
    fourteen_bit: bool = Field(default=False, description="controllers 1..31 also send their fine half on number + 32")
    bytes_per_second: int | None = Field(
        2500, ge=100, le=1_000_000, description="byte budget of the port, bytes a second; null = no limit"
    )
    interval_ms: float = Field(
        4.0, ge=0.0, le=100.0, description="least time between two values of one controller, ms; 0 = every frame"
    )

    @model_validator(mode="after")
    def _controllers_differ(self) -> MidiSettings:
        """Two values on one controller would overwrite each other."""
        used = [number for number in (self.breath, self.bright, self.blueness, self.lean) if number is not None]
        if self.fourteen_bit:
            used += [number + 32 for number in used if number < 32]
        if len(set(used)) < len(used):
            raise ValueError("breath, bright, blueness and lean each need a controller of their own")
        if bad := sorted(RESERVED_CONTROLLERS.intersection(used)):
            raise ValueError(f"controller {bad[0]} selects banks or parameters in MIDI: take another one")
        return self


class OscSettings(BaseModel):
    """Where OSC goes to, how often, and where commands may come in."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    to: str = Field("127.0.0.1:9000", description="HOST:PORT that OSC is sent to, or none")
    interval_ms: float = Field(
        4.0, ge=0.0, le=100.0, description="least time between two inflect or two pitch messages, ms; 0 = every frame"
    )
    listen: str = Field(
        "auto",
        description="where /reedwire/do/ commands may come in: auto (127.0.0.1:9001 if free), none, or HOST:PORT",
    )

    @field_validator("to")
    @classmethod
    def _to_is_an_address(cls, value: str) -> str:
        """Refuse what is no address before anything is opened."""
        if value != "none":
            parse_address(value)
        return value

    @field_validator("listen")
    @classmethod
    def _listen_is_an_address(cls, value: str) -> str:
        """Refuse what is no address before anything is opened."""
        if value not in ("auto", "none"):
            parse_address(value)
        return value


#: Keys that have a name instead of a letter; the terminal's code for each is known where keys are read.
KEY_NAMES = (
    *("enter", "tab", "backspace", "insert", "delete", "home", "end", "page-up", "page-down"),
    *("up", "down", "left", "right", *(f"f{number}" for number in range(1, 13))),
)
#: These have their meaning already.
_TAKEN_KEYS = ("q", "Q", " ")


class ArmSettings(BaseModel):
    """How listening is started and stopped, besides the space bar and OSC."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    key: Annotated[str | None, BeforeValidator(_digit_as_key)] = Field(
        None,
        description="one more key for it: a letter, digit or sign, or enter, tab, page-down, f1 ...; null = none",
    )
    port: str = Field(
        "none",
        min_length=1,
        description="MIDI port that a footswitch comes in by: none, virtual, or a port's name",
    )
    sends: Literal["controller", "note"] = Field(
        "controller", description="what the footswitch sends: a controller (64..127 = on) or a note"
    )
    number: int = Field(64, ge=0, le=127, description="number of that controller or note; 64 is the hold pedal")
    channel: int | None = Field(None, ge=1, le=16, description="MIDI channel it comes on, 1..16; null = any")
    acts: Literal["press", "hold"] = Field(
        "press", description="press: each press changes over; hold: listens only while the switch is on"
    )

    @field_validator("key")
    @classmethod
    def _key_is_one(cls, value: str | None) -> str | None:
        """A key is one letter or a name, and not one that has its meaning already."""
        if (
            value is None
            or value in KEY_NAMES
            or (len(value) == 1 and value.isprintable() and value not in _TAKEN_KEYS)
        ):
            return value
        raise ValueError(f"one letter, digit or sign other than q, or one of: {', '.join(KEY_NAMES)}")


class HarpPedalSettings(BaseModel):
    """How another harp is taken up by MIDI, besides keys and OSC."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    port: str = Field(
        "none",
        min_length=1,
        description="MIDI port that changes of harp come in by: none, virtual, or a port's name",
    )
    sends: Literal["program", "controller", "note"] = Field(
        "program",
        description="what comes in: program changes, each for one harp of the set; or a controller (64..127 = on) or "
        "a note, which takes the next harp",
    )
    first_program: int = Field(
        0, ge=0, le=127, description="program that takes the first harp, counted from 0; the next one takes the second"
    )
    number: int = Field(80, ge=0, le=127, description="number of that controller or note; 80 is a free button's")
    channel: int | None = Field(None, ge=1, le=16, description="MIDI channel it comes on, 1..16; null = any")


class SendSettings(BaseModel):
    """Everything about sending."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    midi: MidiSettings = Field(default_factory=MidiSettings, description="the MIDI port")
    osc: OscSettings = Field(default_factory=OscSettings, description="OSC over UDP")
    arm: ArmSettings = Field(default_factory=ArmSettings, description="what starts and stops listening")
    harp: HarpPedalSettings = Field(default_factory=HarpPedalSettings, description="what takes another harp by MIDI")
    strength: float = Field(
        1.0, ge=0.0, le=1.0, description="how much of the bend is sent: 1 = as played, 0 = the plain scale"
    )
    synth_pitch: Literal["played", "band"] = Field(
        "played", description="played: the pitch as it sounded; band: the harp's own tuning offset taken out"
    )
