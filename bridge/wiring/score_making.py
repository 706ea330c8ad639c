"""The score of an opened take, from its tables as they are now."""

from __future__ import annotations

from bridge.takes.score import ScoreStyle, score_xml
from bridge.wiring.opening import OpenedTake


def made_score(take: OpenedTake) -> bytes:
    """``score.musicxml`` by the settings that the take was played with, and its tempo."""
    first, *later = take.harps
    return score_xml(
        take.notes,
        first.harp,
        take.tempo,
        ScoreStyle(take.settings.takes.slide_cents, take.settings.quantise.also_blue),
        changes=[(one.since_s, one.harp) for one in later],
        title=take.folder.name,
        tab=take.settings.harp.tab,
    )
