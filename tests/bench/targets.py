"""What the follower shall reach, and whether it did: everything computed from one run."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from bench.harp_only import TARGETS
from bench.measures import Figures
from bench.running import Results
from bench.special import LEAST_VOICED, Numbers

OURS = "reedwire"
#: What still counts as following a bend of 300 cents in 60 ms (5 cents a millisecond): our own reading of the target.
_BEND_CENTS = 15.0
#: So much of the notes must be voiced, in percent, or what is hidden would pass: our own reading, less the beginnings
#: of notes, which have limits of their own.
VOICED_CLEAN, VOICED_ELSEWHERE = 98.0, 97.0
_LOW, _MIDDLE, _HIGH = "<390", "390-1000", ">1000"


@dataclass(frozen=True)
class Verdict:
    """One line of the list of targets; ``met`` is None when this run does not tell."""

    figure: str
    target: str
    measured: str
    met: bool | None


def row_verdicts(results: Results) -> list[Verdict]:
    """The targets of the rows of other sounds against this run; a figure that is not there is missed."""
    found = []
    for target in TARGETS:
        value = results.rows.get(target.row, {}).get(target.figure, math.nan)
        said = "not measured" if math.isnan(value) else _number(value)
        found.append(Verdict(target.title, f"{target.comparison} {target.limit:.3g}", said, target.met(value)))
    return found


def best_peer(results: Results, group: str, condition: str, of: Callable[[Figures], float]) -> float:
    """The lowest figure among the live peers; NaN when none has a finite one."""
    values = [
        of(figures)
        for (in_group, in_condition, row), figures in results.figures.items()
        if in_group == group and in_condition == condition and row.startswith("aubio")
    ]
    return min((value for value in values if math.isfinite(value)), default=float("nan"))


def verdicts(results: Results) -> list[Verdict]:
    """Every target against this run."""
    mine = {key[:2]: figures for key, figures in results.figures.items() if key[2] == OURS}
    clean = {key: figures for key, figures in mine.items() if key[1] == "clean"}
    tame = {key: figures for key, figures in mine.items() if key[1] in ("driven", "hum", "room")}
    noisy = {key: figures for key, figures in mine.items() if key[1] == "noise"}
    dirty = tame | noisy
    rehearsal = mine["rehearsal", "clean"]
    found = []
    for where, chosen in (("clean", clean), ("elsewhere", dirty)):
        found += _prompt(results, where, chosen)
    found += [
        _voiced_at_least("clean", clean, VOICED_CLEAN),
        _voiced_at_least("elsewhere", dirty, VOICED_ELSEWHERE),
        _most("gross errors, clean, % of voiced", clean, lambda of: of.gross, 0.1, _voiced),
        _most("octave errors, clean, % of voiced", clean, lambda of: of.octave, 0.0, _voiced),
        _most("gross errors, driven, hum and room, % of voiced", tame, lambda of: of.gross, 0.5, _voiced),
        _most("gross errors, noise, % of voiced", noisy, lambda of: of.gross, 1.0, _voiced),
        _one("median error, clean rehearsal, cents", rehearsal.median_cents, 0.2),
        _one("p99 error, clean rehearsal, cents", rehearsal.p99_cents, 5.0),
        _most("median error in noise from 390 Hz up, cents", noisy, _median_of(_MIDDLE, _HIGH), 0.8),
        _most("median error in noise below 390 Hz, cents", noisy, _median_of(_LOW), 1.2),
        _most("wrong Note Ons, clean, %", clean, lambda of: of.notes.wrong_percent, 0.0),
        _most("wrong Note Ons, elsewhere, %", dirty, lambda of: of.notes.wrong_percent, 0.5),
        _most("wrong or scooped Note Ons, clean, %", clean, lambda of: of.notes.wrong_or_scooped_percent, 0.0),
        _most("wrong or scooped Note Ons, elsewhere, %", dirty, lambda of: of.notes.wrong_or_scooped_percent, 0.5),
    ]
    found += _skills(results) + _costs(results)
    # Too few sounds for a verdict, too little time for a cost.
    return [replace(one, met=None) for one in found] if results.quick else found


def _prompt(results: Results, where: str, chosen: dict[tuple[str, str], Figures]) -> list[Verdict]:
    """How soon: the limits are those asked for in any sound, so dirty sounds are held to them too."""
    lowest = f"lag from 175 Hz up (lowest pitch here {results.lowest_hz:.0f} Hz), ms, {where}"
    return [
        _most(f"lag from 390 Hz up, ms, {where}", chosen, _lag_of(_MIDDLE, _HIGH), 4.0),
        _most(lowest, chosen, _lag_of(_LOW, _MIDDLE, _HIGH), 8.0),
        _largest(
            f"lag from 390 Hz up over that of the best aubio row, {where}",
            {key: _worst(_lag_ratios(results, *key)) for key in chosen},
            1.0 / 3.0,
        ),
        _most(f"onset to first correct frame, p50, ms, {where}", chosen, lambda of: of.onset_p50_ms, 10.0),
        _most(f"onset to first correct frame, p95, ms, {where}", chosen, lambda of: of.onset_p95_ms, 25.0),
        _most(f"onset to Note On, p50, ms, {where}", chosen, lambda of: of.notes.delay_ms(0.5), 12.0),
        _most(f"onset to Note On, p95, ms, {where}", chosen, lambda of: of.notes.delay_ms(0.95), 25.0),
    ]


def _skills(results: Results) -> list[Verdict]:
    steady, vibrato = results.skills["steady", OURS], results.skills["vibrato", OURS]
    bend = results.skills["fast bend", OURS]
    found = [
        _heard(
            _one("steady notes, every semitone 100 Hz to 3.2 kHz, worst frame, cents", steady["worst frame"], 1.0),
            steady,
        ),
        _heard(_least("vibrato of 50 cents at 6 Hz, depth kept, %", vibrato["depth kept"], 97.0), vibrato),
        _heard(
            _one("300 cents in 60 ms, largest step over the largest true one", bend["largest step over true"], 2.0),
            bend,
            100.0,
        ),
        _heard(
            _one("300 cents in 60 ms, worst error with the lag out, cents", bend["worst cents"], _BEND_CENTS),
            bend,
            100.0,
        ),
    ]
    for gap in ("40 ms", "20 ms"):
        counts = results.skills[f"repeats {gap}", OURS]
        found += [_repeats(f"{how} repeats with gaps of {gap}", counts, how) for how in ("rehearsed", "sampled")]
    return [*found, _one("notes in 60 s of silence and breath", results.skills["silence", OURS]["notes"], 0.0)]


def _repeats(name: str, counts: dict[str, float], how: str) -> Verdict:
    played, missing, invented, wrong = (counts[f"{how}, {what}"] for what in ("played", "missing", "invented", "wrong"))
    measured = f"{played - missing:.0f} of {played:.0f} found, {invented:.0f} invented, {wrong:.0f} at a wrong slot"
    found = Verdict(
        f"{name}, plain and under vibrato",
        "all found, none invented, none wrong",
        measured,
        missing == invented == wrong == 0,
    )
    return _heard(found, {"voiced %": counts[f"{how}, voiced %"]})


def _heard(verdict: Verdict, skill: Numbers, least: float = LEAST_VOICED) -> Verdict:
    """A skill counts only where enough of the notes has a pitch at all."""
    voiced = skill["voiced %"]
    return replace(
        verdict,
        target=f"{verdict.target}, >= {least:.3g} % voiced",
        measured=f"{verdict.measured}, {voiced:.4g} % voiced",
        met=bool(verdict.met) and voiced >= least,
    )


def _costs(results: Results) -> list[Verdict]:
    return [
        _one(
            "CPU, live, follower and quantiser, hop 64, dearer of two harps, % of one core",
            results.costs[OURS][0],
            15.0,
        ),
        _least("transcribe, times real time", results.transcribe_speed, 20.0),
    ]


def _lag_of(*bands: str) -> Callable[[Figures], float]:
    return lambda figures: _worst(figures.bands[band].lag_ms for band in bands)


def _lag_ratios(results: Results, group: str, condition: str) -> list[float]:
    """From 390 Hz up: our lag over that of the quickest aubio row on the same sounds.

    Where no peer has a lag there is nothing to compare; where we alone have none the ratio is infinite.
    """
    ratios = []
    for band in (_MIDDLE, _HIGH):
        ours = results.figures[group, condition, OURS].bands[band].lag_ms
        peer = best_peer(results, group, condition, lambda of, band=band: of.bands[band].lag_ms)  # type: ignore[misc]
        ratios.append(ours if math.isinf(ours) else ours / peer)
    return ratios


def _median_of(*bands: str) -> Callable[[Figures], float]:
    return lambda figures: _worst(figures.bands[band].median_cents for band in bands)


def _voiced(figures: Figures) -> str:
    """How much has a pitch at all, beside what is counted of that alone."""
    return f", {figures.recall:.1f} % voiced"


def _most(
    name: str,
    chosen: dict[tuple[str, str], Figures],
    of: Callable[[Figures], float],
    limit: float,
    beside: Callable[[Figures], str] = lambda _: "",
) -> Verdict:
    """The worst of several figures against a limit, which it was of, and what else is to be seen of that."""
    values = {key: of(figures) for key, figures in chosen.items()}
    return _largest(name, values, limit, lambda key: beside(chosen[key]))


def _largest(
    name: str,
    values: dict[tuple[str, str], float],
    limit: float,
    beside: Callable[[tuple[str, str]], str] = lambda _: "",
) -> Verdict:
    """The same of values already there: what could be measured and was not heard is infinite among them, not NaN."""
    known = {key: value for key, value in values.items() if not math.isnan(value)}
    if not known:
        return Verdict(name, _at_most(limit), "not in this run", met=None)
    worst = max(known, key=lambda key: known[key])
    return Verdict(
        name, _at_most(limit), f"{_number(known[worst])} ({', '.join(worst)}{beside(worst)})", known[worst] <= limit
    )


def _voiced_at_least(where: str, chosen: dict[tuple[str, str], Figures], limit: float) -> Verdict:
    """How much of the notes has a pitch, where it is least."""
    worst = min(chosen, key=lambda key: chosen[key].recall, default=None)
    name, target = f"voiced, {where}, % of the frames of notes", f">= {limit:.3g}"
    if worst is None:
        return Verdict(name, target, "not in this run", met=None)
    recall = chosen[worst].recall
    return Verdict(name, target, f"{recall:.2f} ({', '.join(worst)})", recall >= limit)


def _one(name: str, value: float, limit: float) -> Verdict:
    return Verdict(name, _at_most(limit), _number(value), value <= limit)


def _least(name: str, value: float, limit: float) -> Verdict:
    return Verdict(name, f">= {limit:.3g}", _number(value), value >= limit)


def _at_most(limit: float) -> str:
    return f"<= {limit:.3g}" if limit else "0"


def _worst(values: Iterable[float]) -> float:
    """The largest, of those that the sound has at all."""
    return max((value for value in values if not math.isnan(value)), default=float("nan"))


def _number(value: float) -> str:
    if math.isinf(value):
        return "never"
    return f"{value:.3g}" if abs(value) < 100 else f"{value:.0f}"
