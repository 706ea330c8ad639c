"""Figures on a few sounds, kept so that a test can tell whether a change made the follower worse.

The sounds are the same every time, so what differs is the follower (and the rounding of numpy's versions). Beside each
figure stands its noise: twice the precision of a lag; of the rest, how far the mean over these sounds would move with
other sounds, two standard errors.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from bench.cases import Case, high_case, rehearsal_case, sampled_case
from bench.measures import Figures
from bench.scoring import score_ours
from bridge.follow.settings import FollowSettings

#: What must not grow: lag in ms, the rest in percent.
WATCHED = ("lag 175-390", "lag 390-1000", "lag 1000-3300", "gross", "octave", "missed", "wrong Note Ons")
PASSAGES = ("released third", "fast bends", "alternation", "weak fundamental", "whole range")
#: Below this a difference means nothing, in the unit of the figure.
LEAST_NOISE = 0.1
#: Lag differs from sound to sound with the pitch, which is no noise; it is measured to 0.1 ms.
LAG_NOISE_MS = 0.2
_CONDITIONS = ("clean", "noise", "room")


def watched_cases() -> list[Case]:
    """A few sounds that hold everything that is watched."""
    made = [rehearsal_case("low-F", 1, PASSAGES), rehearsal_case("D", 2, PASSAGES), high_case("A", 3)]
    return [*made, sampled_case("phrase", "A"), sampled_case("vibrato", "low-F")]


Recorded = dict[str, dict[str, dict[str, float]]]


def measured(settings: FollowSettings | None = None, conditions: Sequence[str] = _CONDITIONS) -> Recorded:
    """For each condition and watched figure: its mean over the sounds and its noise."""
    clean = watched_cases()
    found = {}
    for condition in conditions:
        rows = [_watched(score_ours(case.dirtied(condition), settings)) for case in clean]
        found[condition] = {name: _mean_and_noise(name, [row[name] for row in rows]) for name in WATCHED}
    return found


def record(path: Path) -> None:
    """Write the figures of the follower as it is."""
    path.write_text(json.dumps(measured(), indent=2) + "\n", encoding="utf-8")


def worse(now: Recorded, then: Recorded) -> list[str]:
    """One line for each figure of ``now`` that has grown beyond its recorded noise, or cannot be told any more."""
    lines = []
    for condition, figures in now.items():
        for name, old in then[condition].items():
            new = figures[name]["mean"]
            if not new <= old["mean"] + old["noise"]:
                lines.append(f"{condition}, {name}: {new:.3f}, recorded {old['mean']:.3f} +- {old['noise']:.3f}")
    return lines


def _watched(figures: Figures) -> dict[str, float]:
    lags = {f"lag {name}": band.lag_ms for name, band in figures.bands.items()}
    return lags | {
        "gross": figures.gross,
        "octave": figures.octave,
        "missed": 100.0 - figures.recall,
        "wrong Note Ons": figures.notes.wrong_percent,
    }


def _mean_and_noise(name: str, values: list[float]) -> dict[str, float]:
    known = [value for value in values if not math.isnan(value)]
    mean = float(np.mean(known)) if known else math.nan
    if name.startswith("lag"):
        return {"mean": mean, "noise": LAG_NOISE_MS}
    spread = float(np.std(known, ddof=1)) / math.sqrt(len(known)) if len(known) > 1 else 0.0
    return {"mean": mean, "noise": max(LEAST_NOISE, 2.0 * spread)}
