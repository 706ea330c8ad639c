"""The score of an opened take, from its tables as they are now."""

from __future__ import annotations

from pathlib import Path

from bridge.takes.score import ScoreStyle, write_score
from bridge.wiring.opening import OpenedTake


def make_score(take: OpenedTake, path: Path) -> None:
    """Write ``score.musicxml`` to ``path``, by the settings that the take was played with, and its tempo.

    Raises OSError where it cannot be written.
    """
    first, *later = take.harps
    with path.open("wb") as out:
        write_score(
            out,
            take.notes,
            first.harp,
            take.tempo,
            ScoreStyle(take.settings.takes.slide_cents, take.settings.quantise.also_blue),
            changes=[(one.since_s, one.harp) for one in later],
            title=take.folder.name,
            tab=take.settings.harp.tab,
        )
