"""What a hole gives besides its two straight notes.

A hole's higher reed bends down to a semitone above its lower one. Overblown or overdrawn, a hole sounds a semitone
above its higher reed; the overbends kept here are those whose note nothing else on the harp gives (common practice
of the trade, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from bridge.harp.layout import Layout

Air = Literal["blow", "draw"]
Kind = Literal["straight", "bend", "overblow", "overdraw"]
_AIRS: tuple[Air, Air] = ("blow", "draw")


@dataclass(frozen=True, slots=True)
class Sound:
    """One note of the harp: the hole (from 1), the air, how it is made, and semitones above hole-1 blow."""

    hole: int
    air: Air
    kind: Kind
    semitones: int


def straight_notes(layout: Layout) -> tuple[Sound, ...]:
    """Both notes of every hole, hole by hole, blow first."""
    return tuple(
        Sound(hole, air, "straight", semitones)
        for hole, pair in enumerate(zip(layout.blow, layout.draw, strict=True), start=1)
        for air, semitones in zip(_AIRS, pair, strict=True)
    )


def bends(layout: Layout) -> tuple[Sound, ...]:
    """Every bend in whole semitones, hole by hole, the shallowest first."""
    return tuple(
        Sound(hole, air, "bend", semitones)
        for hole, (blow, draw) in enumerate(zip(layout.blow, layout.draw, strict=True), start=1)
        for air in (_higher(blow, draw),)
        for semitones in range(max(blow, draw) - 1, min(blow, draw), -1)
    )


def overbends(layout: Layout) -> tuple[Sound, ...]:
    """Every overblow and overdraw that adds a note to the harp, hole by hole."""
    there = {sound.semitones for sound in straight_notes(layout) + bends(layout)}
    return tuple(
        Sound(hole, "blow", "overblow", semitones)
        if _higher(blow, draw) == "draw"
        else Sound(hole, "draw", "overdraw", semitones)
        for hole, (blow, draw) in enumerate(zip(layout.blow, layout.draw, strict=True), start=1)
        if (semitones := max(blow, draw) + 1) not in there
    )


def _higher(blow: int, draw: int) -> Air:
    """The air of a hole's higher reed, the one that bends."""
    return "draw" if draw > blow else "blow"
