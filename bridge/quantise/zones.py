"""Settings of what the harp in hand has a say in: where a degree is blue, and how loud soft and hard playing are."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

#: Where a straight third lies in equal temperament, cents above the root.
EQUAL_THIRD = 400.0

#: Wider than this a degree would meet its own octave.
_WIDEST_CENTS = 600.0
#: A harp's straight third lies at least so far above the blue zone, so that blueness has room to fade, and no nearer
#: than this to the fourth, cents.
_ROOM_CENTS = 10.0
_HIGHEST_THIRD = 470.0
#: Breath where nothing is known of the player, dBFS.
_FLOOR_DB, _CEILING_DB = -48.0, -9.0
#: Soft playing is this much of the whole breath, and hard playing lacks as much of it.
_MARGIN = 0.1

Harp = Literal["harp"]
_Cents = Annotated[float, Field(ge=0.0, le=1200.0)]
_Level = Annotated[float, Field(ge=-120.0, le=0.0)]


class _Settings(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ZoneSettings(_Settings):
    """A degree that can be blue, in cents above the root: minor < zone_low <= target <= zone_high < straight."""

    straight: _Cents = Field(description="Where the unbent degree lies, cents above the root.")
    minor: _Cents = Field(description="Where the fully flattened degree lies, cents above the root.")
    target: _Cents = Field(description="Where lean is 0, cents above the root.")
    zone_low: _Cents = Field(description="Lower edge of the blue zone, cents above the root.")
    zone_high: _Cents = Field(description="Upper edge of the blue zone, cents above the root.")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _check_order(self, self.straight)
        return self


class ThirdSettings(_Settings):
    """The blue third, like :class:`ZoneSettings`; its straight pitch may be that of the harp in hand."""

    straight: Harp | _Cents = Field(
        default="harp",
        description="Where the unbent third lies, cents above the root; harp = where the harp's own reeds have it.",
    )
    minor: _Cents = Field(default=300.0, description="Where the fully flattened third lies, cents above the root.")
    target: _Cents = Field(default=350.0, description="Where lean is 0, cents above the root.")
    zone_low: _Cents = Field(default=315.0, description="Lower edge of the blue zone, cents above the root.")
    zone_high: _Cents = Field(default=365.0, description="Upper edge of the blue zone, cents above the root.")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        _check_order(self, self.straight_cents)
        return self

    @property
    def straight_cents(self) -> float:
        """Where the straight third lies, that of equal temperament as long as the harp is not known."""
        return EQUAL_THIRD if self.straight == "harp" else self.straight

    def suits(self, harp_cents: float) -> bool:
        """Whether a harp with its straight third at ``harp_cents`` can be read: above the zone, below the fourth."""
        least = min(self.zone_high + _ROOM_CENTS, EQUAL_THIRD)
        return self.straight != "harp" or least <= harp_cents <= _HIGHEST_THIRD

    def for_harp(self, harp_cents: float) -> ThirdSettings:
        """The same over a harp with its straight third at ``harp_cents``.

        A number that was set stays; a third that does not suit the zone is taken to lie where equal temperament has it.
        """
        own = self.straight == "harp" and self.suits(harp_cents)
        return self.model_copy(update={"straight": harp_cents if own else self.straight_cents})


class BreathSettings(_Settings):
    """Breath, 0..1, is the level between two marks, or always the same."""

    floor_db: Harp | _Level = Field(
        default="harp",
        description="Level at which breath is 0, dBFS; harp = a little under soft playing as in the harp file, or -48.",
    )
    ceiling_db: Harp | _Level = Field(
        default="harp",
        description="Level at which breath is 1, dBFS; harp = a little over hard playing as in the harp file, or -9.",
    )
    constant: float | None = Field(
        default=None,
        ge=0.0,
        le=1.0,
        description="Breath that every note has whatever its level, 0..1; null = from the level.",
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        floor_db, ceiling_db = self.marks_db()
        if not floor_db < ceiling_db:
            raise ValueError(f"floor_db must lie below ceiling_db ({_FLOOR_DB:g} and {_CEILING_DB:g} unless set)")
        return self

    def marks_db(self, playing_db: tuple[float, float] | None = None) -> tuple[float, float]:
        """Floor and ceiling for a player whose soft and hard playing have the levels ``playing_db``, None unknown.

        What was set stays; the harp file's part of it that would turn the two round is left out.
        """
        soft_db, hard_db = playing_db or (0.0, 0.0)
        margin_db = _MARGIN / (1.0 - 2.0 * _MARGIN) * (hard_db - soft_db)
        heard = (soft_db - margin_db, min(hard_db + margin_db, 0.0)) if playing_db else (_FLOOR_DB, _CEILING_DB)
        for known in (heard, (_FLOOR_DB, _CEILING_DB)):
            floor_db = known[0] if self.floor_db == "harp" else self.floor_db
            ceiling_db = known[1] if self.ceiling_db == "harp" else self.ceiling_db
            if floor_db < ceiling_db:
                break
        return floor_db, ceiling_db

    def for_player(self, playing_db: tuple[float, float] | None) -> BreathSettings:
        """The same with both marks as numbers, for soft and hard playing at ``playing_db``."""
        floor_db, ceiling_db = self.marks_db(playing_db)
        return self.model_copy(update={"floor_db": floor_db, "ceiling_db": ceiling_db})


def zone(minor: float, straight: float) -> ZoneSettings:
    """The blue zone of a degree: from 15 cents above the minor to 35 below the straight, the target half way."""
    return ZoneSettings(
        straight=straight,
        minor=minor,
        target=(minor + straight) / 2.0,
        zone_low=minor + 15.0,
        zone_high=straight - 35.0,
    )


def _check_order(settings: ZoneSettings | ThirdSettings, straight: float) -> None:
    """Raise the ValueError that pydantic collects where the places do not rise."""
    if not settings.minor < settings.zone_low <= settings.target <= settings.zone_high < straight:
        raise ValueError(
            "must rise in the order minor < zone_low <= target <= zone_high < straight"
            + (f", which is {straight:g} unless the harp has it elsewhere" if settings.straight == "harp" else "")
        )
    if straight - settings.minor > _WIDEST_CENTS:
        raise ValueError(f"straight must lie at most {_WIDEST_CENTS:g} cents above minor")
