"""Everything the benchmark measures, in one run: the speed alone, then the rest on all cores."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from bench import harp_only, special, speed
from bench.cases import CONDITIONS, GROUPS, Case, clean_cases, rehearsal_case
from bench.measures import Figures
from bench.peers import AUBIO, OFFLINE, Row, ours
from bench.scoring import score_row

#: Estimators slower than real time hear only so many sounds of a group.
SLOW_CASES = 4
#: Peers that show their special skills too.
SKILLED = ("aubio yinfft 1024/128", "aubio yinfast 1024/128")
SKILLS: dict[str, Callable[[Row], special.Numbers]] = {
    "steady": special.steady,
    "vibrato": special.vibrato,
    "fast bend": special.fast_bend,
    "repeats 40 ms": lambda row: special.restrikes(row, 40.0),
    "repeats 20 ms": lambda row: special.restrikes(row, 20.0),
    "silence": special.silence,
}
ROWS: dict[str, Row] = {row.name: row for row in (ours(), *AUBIO, *OFFLINE)}


@dataclass(frozen=True)
class Results:
    """One run.

    ``figures`` by (group, condition, row), ``skills`` by (skill, row), ``costs`` (CPU %, p99 us) by row,
    ``loop_ns`` what a round of a plain loop takes on this machine;
    ``lowest_hz`` is the lowest pitch scored; ``rows`` the figures of the rows of other sounds, none in a quick run.
    """

    figures: dict[tuple[str, str, str], Figures]
    skills: dict[tuple[str, str], special.Numbers]
    costs: dict[str, tuple[float, float]]
    transcribe_speed: float
    loop_ns: float
    lowest_hz: float
    rows: dict[str, special.Numbers]
    quick: bool


_clean: dict[str, list[Case]] = {}


def run_all(*, quick: bool, say: Callable[[str], None]) -> Results:
    """Measure everything; ``quick`` takes a few sounds, conditions and rows only."""
    say("what it costs")
    timed = [rehearsal_case(key, 1) for key in speed.KEYS]
    loop_ns = speed.plain_loop_ns()
    costs = speed.live_costs(timed, 4.0 if quick else 20.0)
    transcribe_speed = speed.transcribe_speed(timed[0], 1 if quick else 3)
    for group in GROUPS:
        say(f"the sounds: {group}")
        _clean[group] = clean_cases(group, quick=quick)
    rows = [name for name, row in ROWS.items() if not (quick and (row.slow or "2048" in name or name == "librosa yin"))]
    # The longest first, so that no core is left waiting for one of them at the end.
    jobs: list[tuple[str, ...]] = [] if quick else [("row", row, "") for row in harp_only.ROWS]
    jobs += [
        ("figures", group, condition, *rows)
        for group in GROUPS
        for condition in (("clean", "noise") if quick else CONDITIONS)
    ]
    skilled = [row for row in rows if row == "reedwire" or (row in SKILLED and not quick)]
    jobs += [("skill", skill, row) for skill in SKILLS for row in skilled]
    figures: dict[tuple[str, str, str], Figures] = {}
    skills: dict[tuple[str, str], special.Numbers] = {}
    others: dict[str, special.Numbers] = {}
    # Forked, so that the sounds need not be sent.
    with multiprocessing.get_context("fork").Pool(os.cpu_count()) as pool:
        for done in pool.imap_unordered(_work, jobs):
            say(done.what)
            figures |= done.figures
            skills |= done.skills
            others |= done.rows
    lowest_hz = min(_lowest_hz(case) for cases in _clean.values() for case in cases)
    return Results(figures, skills, costs, transcribe_speed, loop_ns, lowest_hz, others, quick)


def _lowest_hz(case: Case) -> float:
    """The lowest pitch that is scored."""
    sound = case.sound
    return float(np.min(sound.hz[sound.scored & (sound.hz > 0.0)]))


@dataclass(frozen=True)
class _Done:
    what: str
    figures: dict[tuple[str, str, str], Figures] = field(default_factory=dict)
    skills: dict[tuple[str, str], special.Numbers] = field(default_factory=dict)
    rows: dict[str, special.Numbers] = field(default_factory=dict)


def _work(job: tuple[str, ...]) -> _Done:
    """One job in a process of its own."""
    kind, first, second, *names = job
    if kind == "row":
        return _Done(first, rows={first: harp_only.ROWS[first]()})
    if kind == "skill":
        return _Done(f"{first}: {second}", skills={(first, second): SKILLS[first](ROWS[second])})
    cases = [case.dirtied(second) for case in _clean[first]]
    # From every part of the list, and not always the same kind of sound.
    some = [cases[index * (len(cases) // SLOW_CASES) + index] for index in range(min(SLOW_CASES, len(cases) // 4))]
    figures = {(first, second, name): score_row(some if ROWS[name].slow else cases, ROWS[name]) for name in names}
    return _Done(f"{first}, {second}", figures)
