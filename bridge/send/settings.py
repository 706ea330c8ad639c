"""Settings of what is sent: MIDI, OSC, how much of the bend; and what commands come in by."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator

from bridge.send.address import parse_address
from bridge.send.midi_settings import MidiSettings


def _digit_as_key(value: object) -> object:
    """YAML reads a digit as a number; here it is a key."""
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


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
