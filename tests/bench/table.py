"""The results as one Markdown page."""

from __future__ import annotations

import math
import os
import platform
from collections.abc import Iterable, Sequence
from importlib.metadata import version

from bench import harp_only
from bench.cases import CONDITIONS, GROUPS, SAMPLED_KEYS
from bench.measures import Figures
from bench.running import ROWS, SLOW_CASES, Results
from bench.special import Numbers
from bench.targets import Verdict, best_peer, row_verdicts, verdicts
from sounds.rehearsed import BENCH_KEYS, BENCH_SEEDS

_LIBRARIES = ("reedwire", "numpy", "aubio-ledfx", "praat-parselmouth", "librosa", "mir_eval")
_VERDICT = {True: "met", False: "**missed**", None: ""}
_OFFLINE = ("Praat", "librosa")


def page(results: Results, date: str) -> str:
    """All of ``results.md``."""
    seeds = ", ".join(map(str, BENCH_SEEDS))
    scope = (
        f"Rehearsal: keys {', '.join(BENCH_KEYS)}, seeds {seeds}, with high bends added; sampled harmonica: every "
        f"score in keys {', '.join(SAMPLED_KEYS)}. librosa pyin hears {SLOW_CASES} sounds of each group only."
    )
    if results.quick:
        scope = "A quick run: a few sounds, conditions and rows only, so no verdicts."
    scope += f" The lowest pitch scored is {results.lowest_hz:.1f} Hz."
    versions = ", ".join(f"{name} {version(name)}" for name in _LIBRARIES)
    lines = [
        "# Benchmark of the follower",
        "",
        "Written by `tests/bench/run`; do not edit. What the columns mean stands below the table.",
        "",
        f"{date}, {_machine()}, Python {platform.python_version()}, {versions}. {scope}",
        "",
        "## Targets",
        "",
        *_verdicts(verdicts(results), quick=results.quick),
        "",
        *(f"- {line}." for line in _TARGETS_EXPLAINED),
        "",
        *([] if results.quick else _harp_only(results)),
        "## All rows",
        "",
        *_figures(results),
        "",
        *(f"- {column}: {meaning}." for column, meaning in _EXPLAINED),
        "",
        "## Skills",
        "",
        *_skills(results),
        "",
        "## Cost",
        "",
        *_costs(results),
        "",
    ]
    return "\n".join(lines)


_TARGETS_EXPLAINED = (
    "elsewhere: driven, hum, noise and room (lags and delays have the limits of clean sounds); the worst is named",
    (
        "voiced: % of the frames of notes given a pitch; the limits are our own reading (no outside source), so that"
        " nothing is met by leaving frames out"
    ),
    (
        "steady notes, vibrato and 300 cents in 60 ms are each played on two reeds, one with its fundamental at a tenth"
        " of the strongest partial; the worse counts"
    ),
    (
        "attack (of onsets, Note Ons): rehearsed, when the level meant for the note comes within 20 dB of its loudest,"
        " a tenth of that amplitude; sampled, the first sample of its own channel that is a tenth of the largest one"
        " after the note's first 40 ms"
    ),
    "CPU: from samples to events, follower and quantiser; not capture, sending and page",
)
_EXPLAINED = (
    ("*", "sees the future and cannot play live"),
    (
        "lag",
        (
            "ms from the true curve to the one heard, the shift that fits best over glides and vibrato, by Hz;"
            " <390 reaches down to the lowest pitch scored"
        ),
    ),
    ("never", "for the lag and errors: there was something to hear, and too much of it was wrong or left out to tell"),
    ("false, voiced", "% of frames of silence (from 60 ms after a note) given a pitch; % of frames of notes given one"),
    ("gross, settled", "% of frames more than 50 cents off where both have a pitch; without the first 40 ms of notes"),
    ("octave", "% of those frames that are gross although their chroma is right"),
    ("cents", "error with the lag taken out, gross errors included"),
    ("own", "error when the estimator's own word for the instant a frame describes is taken instead of the lag"),
    (
        "first",
        (
            "ms from attack to the first frame within 50 cents (never = not within 0.3 s);"
            " a note at the pitch of the one just before is left out"
        ),
    ),
    (
        "Note On",
        (
            "ms from attack to Note On, of all notes played (never = not during the note), through the same quantiser;"
            " every row has our level, gate and attacks for it and differs in nothing but pitch"
        ),
    ),
    (
        "missing, extra, wrong",
        (
            "in % of the notes: those without a Note On from 10 ms before to 50 ms after the attack; Note Ons that"
            " belong to no note; those at a slot or octave the pitch did not have by 20 ms later. The targets above"
            " count all three together"
        ),
    ),
    ("scooped", "% of notes right at that instant, while a recorded reed still rose to the slot that was meant"),
    (
        "CPU",
        (
            "% of real time on one core, hop by hop, on the dearer of two harps (A and low F); ours with the quantiser,"
            " a peer's its pitch alone"
        ),
    ),
    ("ratios", "lag (mean over the ranges) and gross errors over those of the best live peer of this run"),
)

_HEAD = (
    "sound", "estimator", "lag <390", "390-1000", ">1000", "false %", "voiced %", "gross % of voiced", "settled",
    "octave %", "cents p50", "p95", "p99", "own p50", "own p99", "first p50", "p95", "Note On p50", "p95", "missing %",
    "extra %", "wrong %", "scooped %", "CPU %", "lag ratio", "gross ratio",
)  # fmt: skip


def _figures(results: Results) -> list[str]:
    rows = []
    for key in sorted(results.figures, key=_order):
        (group, condition, name), figures = key, results.figures[key]
        rows.append(
            (
                f"{group}, {condition}",
                f"**{name}**" if name == "reedwire" else name + ("*" if name.startswith(_OFFLINE) else ""),
                *_cells(figures),
                _cell(results.costs[name][0], 2) if name in results.costs else "",
                *(("", "") if name.startswith(_OFFLINE) else _ratios(results, group, condition, figures)),
            )
        )
    return _markdown(_HEAD, rows)


def _cells(figures: Figures) -> list[str]:
    notes = figures.notes
    return [
        *(_cell(band.lag_ms, 1) for band in figures.bands.values()),
        _cell(figures.false_voicing, 2),
        _cell(figures.recall, 2),
        _cell(figures.gross, 3),
        _cell(figures.gross_settled, 3),
        _cell(figures.octave, 3),
        _cell(figures.median_cents, 3),
        _cell(figures.p95_cents, 2),
        _cell(figures.p99_cents, 2),
        _cell(figures.own_median_cents, 3),
        _cell(figures.own_p99_cents, 2),
        _cell(figures.onset_p50_ms, 1),
        _cell(figures.onset_p95_ms, 1),
        _cell(notes.delay_ms(0.5), 1),
        _cell(notes.delay_ms(0.95), 1),
        _cell(notes.percent(notes.missing), 2),
        _cell(notes.percent(notes.extra), 2),
        _cell(notes.percent(notes.wrong), 2),
        _cell(notes.percent(notes.scooped), 1),
    ]


def _verdicts(found: Sequence[Verdict], *, quick: bool) -> list[str]:
    return _markdown(
        ("figure", "target", "measured", ""),
        [
            (one.figure, one.target, one.measured, "(quick: no verdict)" if quick else _VERDICT[one.met])
            for one in found
        ],
    )


def _harp_only(results: Results) -> list[str]:
    """What must not be taken for the harp, or break its notes: targets, then all figures of each row."""
    rows = [(row, _listed(results.rows[row])) for row in harp_only.ROWS if row in results.rows]
    return [
        "## Hearing only the harp",
        "",
        *_verdicts(row_verdicts(results), quick=False),
        "",
        *_markdown(("row", "figures"), rows),
        "",
    ]


def _listed(numbers: Numbers) -> str:
    return "; ".join(f"{name} {value:.4g}" for name, value in numbers.items())


def _skills(results: Results) -> list[str]:
    rows = [(skill, row, _listed(numbers)) for (skill, row), numbers in sorted(results.skills.items())]
    return _markdown(("skill", "estimator", "figures"), rows)


def _costs(results: Results) -> list[str]:
    rows = [(row, _cell(share, 2), _cell(p99, 0)) for row, (share, p99) in results.costs.items()]
    table = _markdown(("live, hop by hop", "CPU % of real time", "p99 of a hop, us"), rows)
    speed = f"`transcribe`: {results.transcribe_speed:.1f} times real time, from file to take."
    machine = f"One round of a plain loop of Python takes {results.loop_ns:.0f} ns here: so fast is this machine."
    return [*table, "", f"{speed} {machine}"]


def _order(key: tuple[str, str, str]) -> tuple[int, int, int]:
    """Place in the table: as the benchmark lists groups, conditions and rows."""
    return GROUPS.index(key[0]), CONDITIONS.index(key[1]), list(ROWS).index(key[2])


def _ratios(results: Results, group: str, condition: str, figures: Figures) -> tuple[str, str]:
    """Lag (mean over the ranges) and gross errors over those of the best live peer."""
    lags = []
    for name, band in figures.bands.items():
        peer = best_peer(results, group, condition, lambda of, name=name: of.bands[name].lag_ms)  # type: ignore[misc]
        lags.append(band.lag_ms / peer)
    known = [ratio for ratio in lags if not math.isnan(ratio)]
    gross = best_peer(results, group, condition, lambda of: of.gross)
    # No ratio to a peer without any gross error.
    told = _cell(figures.gross / gross, 2) if gross > 0.0 else ("1.00" if figures.gross == 0.0 else "peer has 0")
    return _cell(sum(known) / len(known), 2) if known else "", told


def _machine() -> str:
    """Processor and system, no name of the machine itself."""
    return f"{platform.machine()} {platform.system()} {platform.release().split('-')[0]}, {os.cpu_count()} cores"


def _cell(value: float, digits: int) -> str:
    if math.isnan(value):
        return ""
    return "never" if math.isinf(value) else f"{round(value, digits) + 0.0:.{digits}f}"


def _markdown(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    return [f"| {' | '.join(line)} |" for line in (head, ["---"] * len(head), *rows)]
