"""Every row is treated alike, and the list of targets hides nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from bench import harp_only, noting, special
from bench.cases import Case, played_case
from bench.heard import Heard, heard
from bench.measures import BandFigures, Figures, frame_figures
from bench.noting import NoteFigures
from bench.peers import AUBIO, Row, follow, level_and_attacks, ours, plain_frames
from bench.running import Results
from bench.table import page
from bench.targets import Verdict, best_peer, row_verdicts, verdicts
from bench.wanted import Target
from bridge.base.events import PitchFrame
from bridge.base.units import SILENCE_DB
from bridge.capture.player import PlayedNote
from bridge.follow.settings import FollowSettings


@pytest.fixture(scope="module")
def case() -> Case:
    """Two notes of a low harp, tongued apart."""
    return played_case([PlayedNote(0.2, 0.3, 220.0), PlayedNote(0.55, 0.3, 220.0)], "low-F", "two notes")


@pytest.fixture(scope="module")
def results(case: Case) -> Results:
    """A run as it would be if our follower were right in everything it heard."""
    sound = case.sound
    exact = Heard(sound.times_s, sound.times_s, sound.hz)
    notes = NoteFigures(played=100, scooped=1, delays_ms=(10.0,) * 100)
    figures = {
        (group, condition, "reedwire"): frame_figures(sound, exact, notes)
        for group in ("rehearsal", "sampled")
        for condition in ("clean", "noise", "room")
    }
    repeats = {
        f"{how}, {what}": value
        for how in ("rehearsed", "sampled")
        for what, value in (
            ("played", 60.0),
            ("missing", 0.0),
            ("invented", 0.0),
            ("wrong", 0.0),
            ("scooped", 0.0),
            ("voiced %", 100.0),
        )
    }
    skills = {
        "steady": {"worst frame": 0.1, "voiced %": 100.0},
        "vibrato": {"depth kept": 99.0, "voiced %": 100.0},
        "fast bend": {"largest step over true": 1.0, "worst cents": 3.0, "voiced %": 100.0},
        "repeats 40 ms": repeats,
        "repeats 20 ms": repeats,
        "silence": {"notes": 0.0},
    }
    return Results(
        figures=figures,
        skills={(skill, "reedwire"): numbers for skill, numbers in skills.items()},
        costs={"reedwire": (5.0, 100.0)},
        transcribe_speed=30.0,
        loop_ns=50.0,
        lowest_hz=174.6,
        rows={},
        quick=False,
    )


def found(results: Results, part: str) -> Verdict:
    """The one target whose name holds ``part``."""
    (verdict,) = [one for one in verdicts(results) if part in one.figure]
    return verdict


@pytest.mark.parametrize("row", AUBIO, ids=lambda row: row.name)
def test_a_peer_has_our_level_and_our_attacks(case: Case, row: Row) -> None:
    """At each of its frames a peer has the level of our frame that is ready then, and every attack once."""
    mine = {round(frame.ready_s * case.sound.rate): frame for frame in plain_frames(case)}
    theirs = row.hear(case)
    hop = round((theirs[1].ready_s - theirs[0].ready_s) * case.sound.rate)
    for frame in theirs:
        end = round(frame.ready_s * case.sound.rate)
        assert frame.level_db == mine[end].level_db
        assert frame.attack == any(mine[at].attack for at in range(end - hop + 64, end + 1, 64))
    assert sum(frame.attack for frame in theirs) == sum(frame.attack for frame in mine.values()) == 2


def test_before_our_first_frame_there_is_no_level(case: Case) -> None:
    """An instant at which no hop is complete has silence and no attack."""
    levels, attacks = level_and_attacks(case, np.array([0.0, 1e-4]))
    assert levels.tolist() == [SILENCE_DB, SILENCE_DB]
    assert not attacks.any()


def test_our_frames_are_kept_as_they_came(case: Case) -> None:
    """The frames kept for a case are those of the follower, field by field, and later calls give them again."""
    assert plain_frames(case) == follow(case, FollowSettings())
    assert ours().hear(case) == plain_frames(case)


def test_a_pitch_under_a_closed_gate_is_no_note(case: Case) -> None:
    """Whatever a row hears while our gate is shut becomes no Note On; with a level it would."""
    shut = [PitchFrame(0.01 * i, 0.01 * i, 220.0, SILENCE_DB, 1.0, 1.0, 0.0) for i in range(50)]
    loud = [replace(frame, level_db=-20.0) for frame in shut]
    assert noting.note_ons(case, shut) == []
    assert len(noting.note_ons(case, loud)) == 1


def test_a_scooped_note_is_shown_as_missing_its_target(results: Results) -> None:
    """One scooped note in a hundred leaves the wrong ones at none, and misses the target that counts both."""
    assert found(results, "wrong Note Ons, clean").met
    scooped = found(results, "wrong or scooped Note Ons, clean")
    assert (scooped.met, scooped.target, scooped.measured) == (False, "0", "1 (rehearsal, clean)")


@pytest.mark.parametrize(
    ("skill", "changed", "part"),
    [
        ("steady", {"voiced %": 98.9}, "steady notes"),
        ("vibrato", {"voiced %": 98.9}, "vibrato of 50 cents"),
        ("fast bend", {"voiced %": 99.9}, "worst error with the lag out"),
        ("fast bend", {"voiced %": 99.9}, "largest step over"),
        ("fast bend", {"worst cents": 15.1}, "worst error with the lag out"),
        ("repeats 20 ms", {"sampled, voiced %": 98.9}, "sampled repeats with gaps of 20 ms"),
        ("repeats 40 ms", {"rehearsed, wrong": 1.0}, "rehearsed repeats with gaps of 40 ms"),
        ("repeats 40 ms", {"rehearsed, missing": 1.0}, "rehearsed repeats with gaps of 40 ms"),
    ],
)
def test_a_skill_that_leaves_out_frames_or_errs_is_missed(
    results: Results, skill: str, changed: dict[str, float], part: str
) -> None:
    """A skill met is no longer met once a note is left out of sight, off by too much, or at a wrong slot."""
    assert found(results, part).met
    key = (skill, "reedwire")
    worse = replace(results, skills={**results.skills, key: {**results.skills[key], **changed}})
    assert found(worse, part).met is False


def test_gross_errors_stand_beside_what_is_voiced(results: Results) -> None:
    """A share of voiced frames says how many there are."""
    assert "100.0 % voiced" in found(results, "gross errors, clean").measured


def test_a_quick_run_gives_no_verdict(results: Results) -> None:
    """With few sounds the figures are told and neither met nor missed."""
    quick = page(replace(results, quick=True), "2026-01-01").split("## All rows")[0]
    assert "no verdict" in quick
    assert "| met |" not in quick
    assert "missed" not in quick
    assert "| met |" in page(results, "2026-01-01")


def test_an_estimator_that_hears_nothing_has_no_skill() -> None:
    """Silence for every note is the worst error there is and no frame voiced, not a perfect score."""
    deaf = Row("deaf", lambda case: [replace(frame, hz=0.0) for frame in plain_frames(case)])
    assert special.fast_bend(deaf) == {"largest step over true": math.inf, "worst cents": math.inf, "voiced %": 0.0}


def hidden(frames: Sequence[PitchFrame]) -> list[PitchFrame]:
    """A follower that tells one frame in four only, from the 40th voiced frame of each note on."""
    shown, voiced = [], 0
    for frame in frames:
        voiced = 0 if frame.attack or frame.hz == 0.0 else voiced + 1
        shown.append(replace(frame, hz=0.0) if voiced >= 40 and voiced % 4 else frame)
    return shown


@pytest.mark.parametrize(("condition", "part"), [("clean", "voiced, clean"), ("driven", "voiced, elsewhere")])
def test_a_follower_that_hides_frames_is_missed(results: Results, condition: str, part: str) -> None:
    """Whoever leaves out three frames of four once a note has begun errs in nothing and is missed all the same."""
    long = played_case([PlayedNote(0.2, 1.5, 220.0), PlayedNote(2.0, 1.5, 330.0)], "low-F", "long").dirtied(condition)
    open_, secret = (frame_figures(long.sound, heard(made)) for made in (ours().hear(long), hidden(ours().hear(long))))
    met = [found(with_figures(results, condition, figures), part).met for figures in (open_, secret)]
    assert met == [True, False]
    assert secret.gross == 0.0


def with_figures(results: Results, condition: str, figures: Figures) -> Results:
    """The run with other figures of ours for the rehearsal in one condition."""
    return replace(results, figures={**results.figures, ("rehearsal", condition, "reedwire"): figures})


@pytest.mark.parametrize(("condition", "where"), [("clean", "clean"), ("room", "elsewhere")])
def test_what_could_not_be_told_of_ours_is_missed(results: Results, condition: str, where: str) -> None:
    """A lag or an error that is infinite, where there was something to hear, is the worst there is."""
    known = results.figures["rehearsal", condition, "reedwire"]
    lost = BandFigures(math.inf, math.inf, math.inf, math.inf, 0)
    fails = replace(known, bands=dict.fromkeys(known.bands, lost), onset_p50_ms=math.inf, onset_p95_ms=math.inf)
    run = with_figures(
        results, condition, replace(fails, notes=NoteFigures(played=1, missing=1, delays_ms=(math.inf,)))
    )
    prompt = [one for one in verdicts(run) if one.figure.endswith(f", {where}")]
    assert len(prompt) == 7
    assert {(one.measured, one.met) for one in prompt} == {(f"never (rehearsal, {condition})", False)}


def test_a_median_that_could_not_be_told_is_missed(results: Results) -> None:
    """In noise a range of pitch in which nothing was heard at all is missed."""
    known = results.figures["rehearsal", "noise", "reedwire"]
    lost = {"<390": BandFigures(math.nan, math.inf, math.inf, math.inf, 0)}
    run = with_figures(results, "noise", replace(known, bands={**known.bands, **lost}))
    assert found(run, "median error in noise below 390 Hz").met is False


def test_a_lost_peer_is_no_measure(results: Results) -> None:
    """A peer without a lag is passed over; with no other peer there is no ratio, and no verdict on it."""
    known = results.figures["rehearsal", "clean", "reedwire"]
    bands = {name: replace(band, lag_ms=math.inf) for name, band in known.bands.items()}
    run = replace(
        results, figures={**results.figures, ("rehearsal", "clean", "aubio made"): replace(known, bands=bands)}
    )
    assert math.isnan(best_peer(run, "rehearsal", "clean", lambda of: of.bands["<390"].lag_ms))
    assert found(run, "best aubio row, clean").met is None


def test_rows_of_other_sounds_are_joined_whole() -> None:
    """No row of one module hides another's, and every target names a row there is."""
    assert len(harp_only.ROWS) == sum(len(module.ROWS) for module in harp_only.MODULES)
    assert {target.row for target in harp_only.TARGETS} <= set(harp_only.ROWS)


def test_rows_of_other_sounds_are_judged(results: Results) -> None:
    """A figure within its limit is met, one not measured is missed; the page tells them all, unless quick."""
    target = harp_only.TARGETS[0]
    for value, met in ((target.limit, True), (math.nan, False)):
        run = replace(results, rows={target.row: {target.figure: value}})
        assert row_verdicts(run)[0].met is met
    text = page(run, "2026-01-01")
    assert text.count("## Hearing only the harp") == 1
    assert f"| {target.title} | " in text
    assert "Hearing only the harp" not in page(replace(run, quick=True), "2026-01-01")


def test_a_target_is_met_at_its_limit_and_not_beyond() -> None:
    """Both ways of comparing count the limit itself, and an unknown value never."""
    most, least = Target("", "", "", "<=", 1.0), Target("", "", "", ">=", 1.0)
    assert [most.met(value) for value in (0.9, 1.0, 1.1, math.nan)] == [True, True, False, False]
    assert [least.met(value) for value in (0.9, 1.0, 1.1, math.nan)] == [False, True, True, False]
