"""Figures of single skills: steady notes, vibrato, a fast bend, tongued repeats, silence."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from bench.aligning import Mask, cents_above_1_hz, lags_s
from bench.cases import Case, played_case, score_case
from bench.heard import Heard, heard
from bench.measures import errors
from bench.noting import NoteFigures, note_figures, note_ons
from bench.peers import Row
from bridge.capture.player import Breath, PlayedNote
from bridge.capture.reed_tone import ReedVoice
from sounds.known import Floats
from sounds.rehearsed import WEAKEST_FUNDAMENTAL
from sounds.scores import DRAW, tongued_repeats

Numbers = dict[str, float]
SETTLED_S = 0.15
#: A note that an estimator leaves out of sight is not followed: so much of it must be voiced, in percent.
LEAST_VOICED = 99.0
#: Of a short repeat that share is counted from so long after its attack (the first correct frame may take that long)
#: to so long before its end, seconds.
_HEARD_AFTER_S, _UNTIL_END_S = 0.025, 0.005
_LOWEST_NOTE_HZ, _HIGHEST_NOTE_HZ = 100.0, 3200.0
#: Roots of the notes that carry vibrato and bends, Hz: low F draw 1 to high G hole 9.
_PLACES_HZ = (196.0, 392.0, 784.0, 1568.0, 2637.0)
_VIBRATO_HZ, _VIBRATO_CENTS = 6.0, 50.0
#: Reeds on which held, shaken and bent notes are played: a plain one and one whose fundamental is weak.
VOICES = (ReedVoice(), ReedVoice(fundamental=WEAKEST_FUNDAMENTAL))
#: Of fewer frames than this nothing is said.
_FEWEST_FRAMES = 4


def steady(row: Row) -> Numbers:
    """Held reeds, every semitone from 100 Hz to 3.2 kHz, settled: worst median and frame in cents, least voiced."""
    semitones = np.arange(int(12 * np.log2(_HIGHEST_NOTE_HZ / _LOWEST_NOTE_HZ)) + 1)
    medians, worst, voiced = [], [], []
    for hz, voice in product((_LOWEST_NOTE_HZ * 2.0 ** (semitones / 12)).tolist(), VOICES):
        case = _low_floor(played_case([PlayedNote(0.1, 0.5, hz, voice=voice)], "low-F", "steady", 0.7))
        hear = heard(row.hear(case))
        inside = (hear.ready_s > 0.1 + SETTLED_S) & (hear.ready_s < 0.58)
        voiced.append(voiced_percent(hear, inside))
        inside &= hear.hz > 0.0
        off = np.abs(cents_above_1_hz(hear.hz[inside]) - 1200.0 * np.log2(hz))
        medians.append(float(np.median(off)) if len(off) else float("inf"))
        worst.append(float(np.max(off)) if len(off) else float("inf"))
    return {"worst median": max(medians), "worst frame": max(worst), "voiced %": min(voiced)}


def vibrato(row: Row) -> Numbers:
    """Vibrato of 50 cents at 6 Hz in five octaves: depth kept and frames voiced at worst, in percent."""
    kept, voiced = [], []
    shaken = PlayedNote(0.1, 1.4, 440.0, vibrato_hz=_VIBRATO_HZ, vibrato_cents=_VIBRATO_CENTS, vibrato_after_s=0.1)
    for hz, voice in product(_PLACES_HZ, VOICES):
        note = replace(shaken, hz=hz, voice=voice)
        hear = heard(row.hear(_low_floor(played_case([note], "low-F", "vibrato"))))
        inside = (hear.ready_s > 0.45) & (hear.ready_s < 0.45 + 6.0 / _VIBRATO_HZ)
        voiced.append(voiced_percent(hear, inside))
        inside &= hear.hz > 0.0
        kept.append(100.0 * depth_cents(hear.ready_s[inside], hear.hz[inside], _VIBRATO_HZ) / _VIBRATO_CENTS)
    return {"depth kept": min(kept), "voiced %": min(voiced)}


def voiced_percent(hear: Heard, inside: Mask) -> float:
    """Share of the frames ``inside`` that have a pitch, in percent; 0 without any frame."""
    return 100.0 * float(np.mean(hear.hz[inside] > 0.0)) if inside.any() else 0.0


def depth_cents(times_s: Floats, hz: Floats, rate_hz: float) -> float:
    """Amplitude in cents of the sine at ``rate_hz`` that fits the pitch best (least squares); 0 of nothing."""
    if len(hz) < _FEWEST_FRAMES:
        return 0.0
    angle = 2.0 * np.pi * rate_hz * times_s
    basis = np.column_stack([np.sin(angle), np.cos(angle), np.ones(len(angle))])
    solution = np.linalg.lstsq(basis, cents_above_1_hz(hz), rcond=None)[0]
    return float(np.hypot(solution[0], solution[1]))


def fast_bend(row: Row) -> Numbers:
    """300 cents down and up in 60 ms each: the largest step over the largest true one, worst cents with the lag out."""
    bend = ((0.25, 0.0), (0.31, -300.0), (0.56, -300.0), (0.62, 0.0))
    steps, worst, voiced = [], [], []
    for hz, voice in product(_PLACES_HZ, VOICES):
        case = _low_floor(played_case([PlayedNote(0.1, 0.9, hz, bend, voice=voice)], "low-F", "fast bend"))
        hear = heard(row.hear(case))
        found = errors(case.sound, hear, lags_s(case.sound, hear))
        inside = found.truth.voiced & (found.times_s > 0.2) & (found.times_s < 0.95)
        both = inside & found.heard
        voiced.append(voiced_percent(hear, inside))
        if np.count_nonzero(both) < _FEWEST_FRAMES:
            steps.append(float("inf"))
            worst.append(float("inf"))
            continue
        true_step = largest_step(found.truth.cents, inside)
        steps.append(largest_step(cents_above_1_hz(np.maximum(hear.hz, 1.0)), both) / true_step)
        worst.append(float(np.max(np.abs(found.off_cents[both]))))
    return {"largest step over true": max(steps), "worst cents": max(worst), "voiced %": min(voiced)}


def largest_step(cents: Floats, inside: Mask) -> float:
    """The largest step between neighbouring frames that both are ``inside``; infinite without any such pair.

    Across a gap there is no step: what the pitch did meanwhile, it did in more than one frame.
    """
    pairs = inside[1:] & inside[:-1]
    return float(np.max(np.abs(np.diff(cents)[pairs]))) if pairs.any() else float("inf")


def restrikes(row: Row, gap_ms: float) -> Numbers:
    """Notes tongued ten a second with gaps, plain and under vibrato: how they were found, and least % voiced."""
    gap_s = gap_ms / 1000.0
    cases = []
    for vibrato_cents in (0.0, 40.0):
        for key, hz in (("low-F", 220.0), ("A", 415.3), ("high-G", 932.3)):
            parts = [_struck(0.2 + 0.1 * index, 0.1 - gap_s, hz, vibrato_cents) for index in range(10)]
            cases.append(played_case(parts, key, f"repeats {gap_ms:.0f} ms"))
        for key in ("low-F", "A", "high-G"):
            score = tongued_repeats(10, gap_s, 0.1, DRAW[2], vibrato_cents)
            cases.append(score_case(score, key, f"repeats {gap_ms:.0f} ms"))
    totals = {"rehearsed": NoteFigures(), "sampled": NoteFigures()}
    voiced = dict.fromkeys(totals, 100.0)
    for case in cases:
        how = "sampled" if "sampled" in case.sound.name else "rehearsed"
        frames = row.hear(case)
        totals[how] += note_figures(case, note_ons(case, frames))
        voiced[how] = min(voiced[how], _voiced_of_repeats(case, heard(frames)))
    return {
        f"{how}, {what}": float(value)
        for how, notes in totals.items()
        for what, value in (
            ("played", notes.played),
            ("missing", notes.missing),
            ("invented", notes.extra),
            ("wrong", notes.wrong),
            ("scooped", notes.scooped),
            ("voiced %", voiced[how]),
        )
    }


def _voiced_of_repeats(case: Case, hear: Heard) -> float:
    """Share of the frames in the middle of the notes that have a pitch, in percent."""
    inside = np.zeros(len(hear.ready_s), bool)
    for note in case.sound.notes:
        inside |= (hear.ready_s >= note.attack_s + _HEARD_AFTER_S) & (hear.ready_s < note.end_s - _UNTIL_END_S)
    return voiced_percent(hear, inside)


def silence(row: Row, length_s: float = 60.0) -> Numbers:
    """A quiet room with breath noise on and off at -60 to -40 dBFS: notes invented."""
    levels = (-60.0, -55.0, -50.0, -45.0, -40.0)
    starts = np.arange(0.5, length_s - 1.5, 2.0).tolist()
    parts = [Breath(start, 1.0, levels[index % len(levels)]) for index, start in enumerate(starts)]
    cases = [played_case(parts, key, "breath", length_s) for key in ("low-F", "high-G")]
    return {"notes": float(sum(len(note_ons(case, row.hear(case))) for case in cases))}


def _struck(start_s: float, length_s: float, hz: float, vibrato_cents: float) -> PlayedNote:
    """One of the repeats; the vibrato goes on from note to note as the throat does, at 6 Hz."""
    turn = np.arange(0.0, length_s + 0.001, 0.005)
    wave = vibrato_cents * np.sin(2.0 * np.pi * _VIBRATO_HZ * (start_s + turn))
    glide = tuple(zip(turn.tolist(), wave.tolist(), strict=True)) if vibrato_cents else ()
    return PlayedNote(start_s, length_s, hz, glide, attack_s=0.010, release_s=0.008)


def _low_floor(case: Case) -> Case:
    """The same case, looked at down to 80 Hz, the lowest there is."""
    return _LowCase(case.sound, case.key, case.a4_hz)


class _LowCase(Case):
    floor_hz = 80.0
