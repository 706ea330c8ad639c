"""Figures on a few sounds, kept so that a test can tell whether a change made the follower worse.

The sounds are the same every time and the follower does the same with them, so each figure of each sound is held
against the one recorded. It may grow by little: a lag by the step in which it is searched, a delay by half a frame,
shares by a few frames in a thousand, and on a sound that is not clean one Note On may turn wrong, three in all of them
together. On clean sounds none may. What was told and cannot be told any more is a fault; the other way round is none.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

from bench.cases import CLEAN, Case, high_case, rehearsal_case, sampled_case
from bench.measures import Figures
from bench.peers import Row, ours
from bench.scoring import score

#: What must not grow, and by how much it may: lag and delay in ms, shares in % points, notes counted.
TOLERANCE = {
    "lag <390": 0.1,
    "lag 390-1000": 0.1,
    "lag >1000": 0.1,
    "gross": 0.05,
    "octave": 0.05,
    "unvoiced": 0.3,
    "Note On p50": 0.7,
    "wrong notes": 1.0,
    "scooped notes": 1.0,
}
#: Must not grow on a clean sound at all, and over all sounds together by no more than this.
WRONG, MOST_IN_ALL = "wrong notes", 3.0
PASSAGES = ("released third", "fast bends", "alternation", "weak fundamental", "whole range")
CONDITIONS = (CLEAN, "driven", "noise", "room")
_SOUNDS: dict[str, Callable[[], Case]] = {
    "rehearsal, low-F": lambda: rehearsal_case("low-F", 1, PASSAGES),
    "rehearsal, D": lambda: rehearsal_case("D", 2, PASSAGES),
    "high bends, A": lambda: high_case("A", 3),
    "high bends, high-G": lambda: high_case("high-G", 3),
    "sampled phrase, A": lambda: sampled_case("phrase", "A"),
    "sampled vibrato, low-F": lambda: sampled_case("vibrato", "low-F"),
}
SOUNDS = tuple(_SOUNDS)

#: Condition and sound, then figure; None where there is nothing to measure.
Recorded = dict[str, dict[str, float | None]]


@cache
def _case(sound: str) -> Case:
    return _SOUNDS[sound]()


def measured(
    row: Row | None = None, conditions: Sequence[str] = CONDITIONS, sounds: Sequence[str] = SOUNDS
) -> Recorded:
    """Everything watched of our follower, or of another row."""
    hears = row or ours()
    found = {}
    for sound in sounds:
        for condition in conditions:
            case = _case(sound).dirtied(condition)
            found[f"{condition}, {sound}"] = _watched(score(case, hears.hear(case)))
    return found


def record(path: Path) -> None:
    """Write the figures of the follower as it is."""
    path.write_text(json.dumps(measured(), indent=2) + "\n", encoding="utf-8")


def worse(now: Recorded, then: Recorded) -> list[str]:
    """One line for each figure of ``now`` that has grown beyond its tolerance, cannot be told any more, or is new."""
    lines = []
    for sound, figures in now.items():
        if sound not in then:
            lines.append(f"not on record: {sound}")
            continue
        for name, most in TOLERANCE.items():
            tolerance = 0.0 if name == WRONG and sound.startswith(CLEAN) else most
            old, new = then[sound][name], figures[name]
            # Rounded as the figures are: 4.4 is no more than 0.1 above 4.3.
            if old is not None and (new is None or round(new - old, 4) > tolerance):
                lines.append(f"{name}: {sound}: {new}, recorded {old}, allowed +{tolerance}")
    return lines


def worse_in_all(now: Recorded, then: Recorded) -> list[str]:
    """A line when the sounds of ``now`` together have more wrong Note Ons than all of them may."""
    both = [(figures[WRONG], then[sound][WRONG]) for sound, figures in now.items() if sound in then]
    grown = sum((new or 0.0) - (old or 0.0) for new, old in both)
    return [f"{WRONG}: in all: {grown:+g}, allowed +{MOST_IN_ALL}"] if grown > MOST_IN_ALL else []


def _watched(figures: Figures) -> dict[str, float | None]:
    notes = figures.notes
    values = {f"lag {name}": band.lag_ms for name, band in figures.bands.items()} | {
        "gross": figures.gross,
        "octave": figures.octave,
        "unvoiced": 100.0 - figures.recall,
        "Note On p50": notes.delay_ms(0.5),
        "wrong notes": notes.missing + notes.extra + notes.wrong,
        "scooped notes": notes.scooped,
    }
    # JSON has neither NaN nor infinity.
    return {name: round(value, 4) if math.isfinite(value) else None for name, value in values.items()}
