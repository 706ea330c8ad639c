"""The settings that decide what is a note, and where the blue thirds lie."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from bridge.base.errors import UserError
from bridge.quantise.bleed import BleedSettings
from bridge.quantise.double_stops import DoubleStopSettings
from bridge.quantise.howl import HowlSettings
from bridge.quantise.scales import find_scale, read_scale
from bridge.quantise.talk import TalkSettings
from bridge.quantise.zones import BreathSettings, ThirdSettings, ZoneSettings, zone

#: In a recording the pitch of a sound that begins is watched this long at least, ms.
_UNHURRIED_SETTLE_MS = 6.0


class _Settings(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class SplitSettings(_Settings):
    """When ``glide`` is ``split``: how far and how long the pitch must leave a slot before the next note begins."""

    margin_cents: float = Field(default=15.0, ge=0.0, le=100.0, description="Cents beyond the slot's border.")
    hold_ms: float = Field(default=40.0, ge=0.0, le=500.0, description="Milliseconds it must stay there.")


class JumpSettings(_Settings):
    """A jump to another hole: the pitch moves far in a short time, not in one slide, and stays there."""

    cents: float = Field(default=80.0, gt=0.0, le=1200.0, description="A jump is wider than this, cents.")
    within_ms: float = Field(
        default=15.0, gt=0.0, le=200.0, description="A jump takes no longer than this, milliseconds."
    )
    slide_cents_per_ms: float = Field(
        default=12.0,
        gt=0.0,
        le=100.0,
        description="An unbroken slide no faster than this is a bend, however far it goes, cents a millisecond.",
    )
    hold_ms: float = Field(default=6.0, ge=0.0, le=100.0, description="How long the new pitch must hold, milliseconds.")
    steady_cents: float = Field(default=30.0, gt=0.0, le=200.0, description="How still it must hold, cents.")


class OnsetSettings(_Settings):
    """How a note begins: once it is clear for which slot the pitch of the speaking reed is heading."""

    settle_ms: float = Field(
        default=5.0, ge=0.0, le=100.0, description="The pitch is watched for this long at least, milliseconds."
    )
    quick_ms: float = Field(
        default=2.5,
        ge=0.0,
        le=100.0,
        description="A pitch that stands still near its anchor from the first is sure this soon, milliseconds.",
    )
    quick_cents: float = Field(default=20.0, ge=0.0, le=50.0, description="How near its anchor that is, cents.")
    quick_still_cents: float = Field(default=4.0, ge=0.0, le=50.0, description="How still that is, cents.")
    settle_cents: float = Field(
        default=60.0,
        gt=0.0,
        le=600.0,
        description="A step wider than this between frames begins the watch anew, cents.",
    )
    ahead_ms: float = Field(
        default=10.0,
        ge=0.0,
        le=100.0,
        description="The pitch is heading for where it would be so much later, milliseconds.",
    )
    clear_cents: float = Field(
        default=35.0, ge=0.0, le=600.0, description="A heading this far inside its slot is clear, cents."
    )
    still_cents: float = Field(
        default=2.0, ge=0.0, le=100.0, description="A pitch that moves no more than this in settle_ms is still, cents."
    )
    still_db: float = Field(
        default=1.2, ge=0.0, le=60.0, description="A level that moves no more than this in settle_ms is still, dB."
    )
    patience_ms: float = Field(
        default=15.0, ge=0.0, le=500.0, description="A note begins after this even if nothing is clear, milliseconds."
    )
    unhurried_ms: float = Field(
        default=30.0,
        ge=0.0,
        le=500.0,
        description="The same for a recording, where nobody waits for the note, milliseconds.",
    )
    flat_cents: float = Field(
        default=15.0,
        ge=0.0,
        le=100.0,
        description="A reed still growing by then is taken to be this flat, cents.",
    )
    arrival_ms: float = Field(
        default=40.0,
        ge=0.0,
        le=500.0,
        description="A note keeps the degree it began for until it is there, at most this long, milliseconds.",
    )
    attack_memory_ms: float = Field(
        default=60.0,
        ge=0.0,
        le=500.0,
        description="A pitch that comes this soon after an attack began with it, milliseconds.",
    )
    restrike_guard_ms: float = Field(
        default=30.0,
        ge=0.0,
        le=200.0,
        description="An attack this soon after a note's beginning belongs to that note, milliseconds.",
    )


class DropoutSettings(_Settings):
    """What happens when the pitch is lost while the level stays up."""

    hold_ms: float = Field(
        default=25.0,
        ge=0.0,
        le=500.0,
        description="A note outlasts a lost pitch this long, ms; three times as long while the level stays up.",
    )
    dip_db: float = Field(
        default=9.0, ge=0.0, le=60.0, description="A level this far below the note's own ends it at once, dB."
    )
    tail_db: float = Field(
        default=6.0, ge=0.0, le=60.0, description="A tail in the room is at least this much softer than its note, dB."
    )
    tail_ms: float = Field(
        default=400.0,
        ge=0.0,
        le=5000.0,
        description="So long after its end a softer sound at the same pitch is its tail in the room, ms.",
    )


class QuantiseSettings(_Settings):
    """Everything that turns frames into notes and inflections."""

    scale: str = Field(
        default="blues",
        description="Scale: blues, major, mixolydian, minor-pentatonic, chromatic, or one of your own in 'scales'.",
    )
    scales: dict[str, object] = Field(
        default_factory=dict,
        description=(
            "Your own scales by name: degrees in one line ('1 b3 4 5 b7') or a list, in which a degree may carry "
            "'reach' and 'stay', each [low, high] in cents above the root."
        ),
    )
    glide: Literal["one", "split"] = Field(
        default="one",
        description="one: a glide stays one note. split: a new note at each slot border, for synths without bend.",
    )
    split: SplitSettings = Field(default_factory=SplitSettings, description="The borders when glide is split.")
    jump: JumpSettings = Field(default_factory=JumpSettings, description="What is a jump to another hole.")
    onset: OnsetSettings = Field(default_factory=OnsetSettings, description="How a note begins.")
    dropout: DropoutSettings = Field(default_factory=DropoutSettings, description="How a note outlasts a lost pitch.")
    talk: TalkSettings = Field(default_factory=TalkSettings, description="How talk and noises are told from playing.")
    double_stops: DoubleStopSettings = Field(
        default_factory=DoubleStopSettings, description="Two reeds at once, and notes that are not clean."
    )
    howl: HowlSettings = Field(default_factory=HowlSettings, description="What is taken for a howl, and silenced.")
    bleed: BleedSettings = Field(
        default_factory=BleedSettings, description="How the synth's own sound is told from the player's."
    )
    steady_delay: bool = Field(
        default=False, description="Give every note the same delay, steady_ms after its attack, when played live."
    )
    steady_ms: float = Field(
        default=30.0, ge=0.0, le=200.0, description="That delay, milliseconds; low harps need 50 to keep it."
    )
    third: ThirdSettings = Field(default_factory=ThirdSettings, description="The blue third.")
    fifth: ZoneSettings = Field(default_factory=lambda: zone(600.0, 700.0), description="The blue fifth.")
    seventh: ZoneSettings = Field(default_factory=lambda: zone(1000.0, 1100.0), description="The blue seventh.")
    also_blue: tuple[Literal["5", "7"], ...] = Field(
        default=(), description="Degrees besides the third that have blueness and lean: 5, 7, or both."
    )
    breath: BreathSettings = Field(default_factory=BreathSettings, description="Breath from the level.")
    velocity: int | Literal["attack"] = Field(
        default=96,
        description="Velocity of every note, 1 to 127, or 'attack' to take it from the breath it begins with.",
    )

    @field_validator("also_blue", mode="before")
    @classmethod
    def _as_text(cls, value: object) -> object:
        # YAML reads a bare 5 as a number.
        return tuple(str(item) for item in value) if isinstance(value, list | tuple) else value

    @field_validator("velocity")
    @classmethod
    def _velocity(cls, value: int | str) -> int | str:
        if isinstance(value, int) and not 1 <= value <= 127:
            raise ValueError("must be 1 to 127, or 'attack'")
        return value

    @field_validator("scales")
    @classmethod
    def _scales(cls, value: dict[str, object]) -> dict[str, object]:
        try:
            for name, plain in value.items():
                read_scale(name, plain)
        except UserError as error:
            raise ValueError(str(error)) from error
        return value

    @model_validator(mode="after")
    def _scale(self) -> QuantiseSettings:
        try:
            find_scale(self.scale, self.scales)
        except UserError as error:
            raise ValueError(str(error)) from error
        return self

    def for_harp(self, straight_third_cents: float, playing_db: tuple[float, float] | None = None) -> QuantiseSettings:
        """The same settings with numbers for all that is left to the harp.

        ``straight_third_cents`` is where its straight third lies above the root, ``playing_db`` the levels in dBFS of
        soft and hard playing, None where they are not known.
        """
        update = {"third": self.third.for_harp(straight_third_cents), "breath": self.breath.for_player(playing_db)}
        return self.model_copy(update=update)

    def unhurried(self) -> QuantiseSettings:
        """The same settings for a recording: a note may take its time to become sure."""
        slower = {
            "patience_ms": max(self.onset.patience_ms, self.onset.unhurried_ms),
            "settle_ms": max(self.onset.settle_ms, _UNHURRIED_SETTLE_MS),
        }
        return self.model_copy(
            update={"onset": self.onset.model_copy(update=slower), "talk": self.talk.unhurried()},
        )
