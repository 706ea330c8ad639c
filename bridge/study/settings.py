"""When something is near enough to what was aimed at that nothing is said of it.

Sources of the defaults: of tones at 528 Hz musicians just hear a difference of 10 cents, others one of 38 (Arndt et
al., Experimental Brain Research 238, 2020); in ensembles starts lie some 30 to 50 ms apart (Rasch, Acustica 43, 1979;
from memory); the rest is common practice, no source.
"""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class StudySettings(BaseModel):
    """The tolerances of marks and advice."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    near_cents: float = Field(
        default=10.0, gt=0.0, le=100.0, description="A pitch this near its place is there, cents; musicians hear more."
    )
    plain_cents: float = Field(
        default=38.0, gt=0.0, le=200.0, description="A pitch further off than this is plain to anybody, cents."
    )
    better_cents: float = Field(
        default=15.0,
        gt=0.0,
        le=200.0,
        description="So much less off than the time before, no note left out, is a success, cents.",
    )
    beat_ms: float = Field(
        default=50.0, gt=0.0, le=500.0, description="A note that starts this near its beat is on it, milliseconds."
    )
    release_part: float = Field(
        default=0.4, gt=0.0, le=2.0, description="A release this part shorter or longer than wanted is as wanted."
    )
    steady_cents: float = Field(
        default=10.0, gt=0.0, le=100.0, description="A held pitch that strays no more than this is steady, cents."
    )
    clean_part: float = Field(
        default=0.9, gt=0.0, le=1.0, description="A note of which so much is clean is one hole alone, 0..1."
    )
