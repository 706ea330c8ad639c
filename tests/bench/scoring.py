"""From a case and a row to its figures: the way in for whoever tunes the follower."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bench.cases import Case
from bench.heard import heard, joined
from bench.measures import Figures, frame_figures
from bench.noting import NoteFigures, note_figures, note_ons
from bench.peers import Row, ours
from bridge.base.events import PitchFrame
from bridge.follow.settings import FollowSettings


def score(case: Case, frames: Sequence[PitchFrame], *, live: bool = True) -> Figures:
    """Figures of frames on one sound; an estimator that is not live has no notes."""
    figures = frame_figures(case.sound, heard(frames))
    return replace(figures, notes=note_figures(case, note_ons(case, frames))) if live else figures


def score_ours(case: Case, settings: FollowSettings | None = None) -> Figures:
    """Figures of our follower on one sound."""
    return score(case, ours(settings).hear(case))


def score_row(cases: Sequence[Case], row: Row) -> Figures:
    """Figures of an estimator over several sounds together."""
    parts, notes = [], NoteFigures()
    for case in cases:
        frames = row.hear(case)
        parts.append((case.sound, heard(frames)))
        if row.live:
            notes += note_figures(case, note_ons(case, frames))
    sound, together = joined(parts)
    return frame_figures(sound, together, notes)
