"""The figures of an estimator on a sound, frame by frame.

Every row is treated alike: its lag is measured in each band of pitch and taken out before its errors are counted.
Voicing, gross and octave errors come from mir_eval.melody (recall and false alarm of voicing; a pitch is gross when it
is more than 50 cents off; it is an octave error when its chroma alone is right). Gross and octave errors are shares of
the frames in which both truth and estimator have a pitch: what an estimator leaves out shows in its recall.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from mir_eval import melody

from bench.aligning import BANDS, GROSS_CENTS, Mask, TruthAt, cents_above_1_hz, lags_s, truth_at
from bench.heard import Heard
from bench.noting import SCOOP_CENTS, NoteFigures
from sounds.known import Floats, KnownSound

NAN = float("nan")
#: A silence counts from so long after a note's end, seconds: every window is still full of the note before.
_SETTLE_S = 0.06
#: An attack is looked after so long, seconds.
_ONSET_S = 0.3


@dataclass(frozen=True)
class BandFigures:
    """In one range of pitch: lag in ms (NaN unless something moves), the errors of frames in cents, gross in %.

    Infinite where there is something to hear and nothing, or for the lag too little, was heard right.
    """

    lag_ms: float
    median_cents: float
    p95_cents: float
    gross: float
    frames: int


@dataclass(frozen=True)
class Figures:
    """Shares in percent, errors in cents with the lag taken out, onsets in ms; NaN where there is nothing to measure.

    Where there are notes and no frame of them has a pitch, errors and their shares are infinite.
    ``own_*`` are the errors by the time the estimator itself says a frame describes, with no lag measured.
    ``gross_settled`` leaves out the first 40 ms of each note.
    """

    bands: dict[str, BandFigures]
    recall: float
    false_voicing: float
    gross: float
    gross_settled: float
    octave: float
    median_cents: float
    p95_cents: float
    p99_cents: float
    own_median_cents: float
    own_p99_cents: float
    onset_p50_ms: float
    onset_p95_ms: float
    frames: int
    notes: NoteFigures = field(default_factory=NoteFigures)

    @property
    def lag_ms(self) -> float:
        """The mean lag of the bands that have one."""
        known = [band.lag_ms for band in self.bands.values() if not math.isnan(band.lag_ms)]
        return float(np.mean(known)) if known else NAN


@dataclass(frozen=True, eq=False)
class Errors:
    """Frame by frame: the instant described (lag taken out), the truth there, whether heard, and cents off."""

    times_s: Floats
    truth: TruthAt
    heard: Mask
    off_cents: Floats


def errors_at(sound: KnownSound, heard: Heard, times_s: Floats) -> Errors:
    """Errors of the frames, taken to describe ``times_s``."""
    truth = truth_at(sound, times_s)
    off = np.where((heard.hz > 0.0) & truth.voiced, cents_above_1_hz(heard.hz) - truth.cents, 0.0)
    return Errors(times_s, truth, heard.hz > 0.0, off)


def errors(sound: KnownSound, heard: Heard, lags: dict[str, float]) -> Errors:
    """Errors with the lag of the band taken out in which the truth lies.

    A band whose lag cannot be told has that of the nearest that has one; 0 when there is none at all.
    """
    times = heard.ready_s - _filled(lags)[len(BANDS) // 2]
    for lag, (low, high) in zip(_filled(lags), BANDS.values(), strict=True):
        truth = truth_at(sound, heard.ready_s - lag)
        hz = np.exp2(truth.cents / 1200.0)
        times = np.where(truth.voiced & (hz >= low) & (hz < high), heard.ready_s - lag, times)
    return errors_at(sound, heard, times)


def frame_figures(sound: KnownSound, heard: Heard, notes: NoteFigures | None = None) -> Figures:
    """Everything that can be said of the frames."""
    lags = lags_s(sound, heard)
    found = errors(sound, heard, lags)
    both = found.truth.voiced & found.heard
    quiet = found.truth.silent & _long_silent(sound, found.times_s)
    late = both & ~_beginning(sound, found.times_s)
    scored = found.truth.voiced | quiet
    recall, false_alarm = _voicing(found.truth.voiced[scored], found.heard[scored])
    gross, octave = _gross_and_octave(sound, heard, found, both)
    by_itself = errors_at(sound, heard, heard.time_s)
    own = np.abs(by_itself.off_cents[by_itself.truth.voiced & by_itself.heard])
    sizes = np.abs(found.off_cents[both])
    if found.truth.voiced.any() and not both.any():
        gross = octave = math.inf
        own = sizes = np.array([math.inf])
    onsets = onsets_ms(sound, heard, _filled(lags)[len(BANDS) // 2])
    return Figures(
        bands={name: _band(found, both, edges, lags[name]) for name, edges in BANDS.items()},
        recall=100.0 * float(recall),
        false_voicing=100.0 * float(false_alarm) if quiet.any() else NAN,
        gross=gross,
        gross_settled=percent(np.abs(found.off_cents[late]) > GROSS_CENTS),
        octave=octave,
        median_cents=quantile(sizes, 0.5),
        p95_cents=quantile(sizes, 0.95),
        p99_cents=quantile(sizes, 0.99),
        own_median_cents=quantile(own, 0.5),
        own_p99_cents=quantile(own, 0.99),
        onset_p50_ms=quantile(onsets, 0.5),
        onset_p95_ms=quantile(onsets, 0.95),
        frames=int(np.count_nonzero(both)),
        notes=notes or NoteFigures(),
    )


def onsets_ms(sound: KnownSound, heard: Heard, lag: float) -> Floats:
    """For each note: ms from its attack until the first frame within 50 cents is ready; infinite when there is none.

    A frame is held against the truth one lag earlier, or against the first that is known. Before that a
    recorded reed may also be below it (it scoops upwards). A note at the pitch of the one just before is left out:
    the tail of the old one would pass for the new.
    """
    found = []
    for index, note in enumerate(sound.notes):
        first, last = np.searchsorted(sound.times_s, [note.attack_s, note.end_s])
        known = np.flatnonzero(sound.scored[first:last] & (sound.hz[first:last] > 0.0))
        if not len(known) or (index and _same_pitch(sound, index, first + int(known[0]))):
            continue
        known_s = float(sound.times_s[first + int(known[0])])
        begin, end = np.searchsorted(heard.ready_s, [note.attack_s, min(note.end_s, note.attack_s + _ONSET_S)])
        ready = heard.ready_s[begin:end]
        truth = truth_at(sound, np.maximum(ready - lag, known_s))
        off = cents_above_1_hz(heard.hz[begin:end]) - truth.cents
        scoops = (ready - lag < known_s) & (known_s > note.attack_s + 0.01)
        right = (heard.hz[begin:end] > 0.0) & (np.abs(off) <= GROSS_CENTS)
        right |= (heard.hz[begin:end] > 0.0) & scoops & (off < 0.0) & (off > -SCOOP_CENTS)
        found.append(1000.0 * (float(ready[int(np.argmax(right))]) - note.attack_s) if right.any() else math.inf)
    return np.array(found)


def quantile(values: Floats, share: float) -> float:
    """Order statistic (no interpolation, so that infinite values stay what they are); NaN of nothing."""
    return float(np.quantile(values, share, method="higher")) if len(values) else NAN


def percent(hits: Mask) -> float:
    """Share in percent; NaN of nothing."""
    return 100.0 * float(np.mean(hits)) if len(hits) else NAN


def _voicing(truth: Mask, heard: Mask) -> tuple[float, float]:
    """Recall and false alarm, 0 to 1, by mir_eval, which warns of nothing heard and must not be asked then."""
    if not truth.size:
        return NAN, NAN
    return melody.voicing_measures(truth.astype(float), heard.astype(float)) if heard.any() else (0.0, 0.0)


def _gross_and_octave(sound: KnownSound, heard: Heard, found: Errors, both: Mask) -> tuple[float, float]:
    """Gross and octave errors in percent of the frames in ``both``, by mir_eval."""
    if not both.any():
        return NAN, NAN
    there = np.ones(np.count_nonzero(both))
    arguments = (there, found.truth.cents[both], there, cents_above_1_hz(heard.hz[both]))
    pitch = melody.raw_pitch_accuracy(*arguments, cent_tolerance=GROSS_CENTS)
    chroma = melody.raw_chroma_accuracy(*arguments, cent_tolerance=GROSS_CENTS)
    return 100.0 * float(1.0 - pitch), 100.0 * float(chroma - pitch)


def _band(found: Errors, both: Mask, edges: tuple[float, float], lag: float) -> BandFigures:
    hz = np.exp2(found.truth.cents / 1200.0)
    inside = found.truth.voiced & (hz >= edges[0]) & (hz < edges[1])
    sizes = np.abs(found.off_cents[both & inside])
    if inside.any() and not len(sizes):
        return BandFigures(1000.0 * lag, math.inf, math.inf, math.inf, 0)
    return BandFigures(
        1000.0 * lag, quantile(sizes, 0.5), quantile(sizes, 0.95), percent(sizes > GROSS_CENTS), len(sizes)
    )


def _filled(lags: dict[str, float]) -> list[float]:
    """Lags of all bands in order, those unknown taken from the nearest known."""
    values = list(lags.values())
    known = [index for index, lag in enumerate(values) if math.isfinite(lag)]
    if not known:
        return [0.0] * len(values)
    return [values[min(known, key=lambda other: abs(other - index))] for index in range(len(values))]


def _long_silent(sound: KnownSound, times_s: Floats) -> Mask:
    """Whether the last note ended long enough ago for every window to be empty."""
    ends = np.array(sorted(note.end_s for note in sound.notes) or [-math.inf])
    before = np.searchsorted(ends, times_s, side="right") - 1
    return np.asarray((before < 0) | (times_s - ends[np.maximum(before, 0)] > _SETTLE_S))


def _beginning(sound: KnownSound, times_s: Floats, within_s: float = 0.04) -> Mask:
    """Whether a note was attacked within so many seconds before."""
    attacks = np.array(sorted(note.attack_s for note in sound.notes) or [-math.inf])
    before = np.searchsorted(attacks, times_s, side="right") - 1
    return np.asarray((before >= 0) & (times_s - attacks[np.maximum(before, 0)] < within_s))


def _same_pitch(sound: KnownSound, index: int, at: int) -> bool:
    """Whether the note before ended less than 0.15 s ago, at the pitch this one has at point ``at``."""
    note, before = sound.notes[index], sound.notes[index - 1]
    if note.attack_s - before.end_s > 0.15:
        return False
    first, last = np.searchsorted(sound.times_s, [before.attack_s, before.end_s])
    then = sound.hz[first:last][sound.hz[first:last] > 0.0]
    return len(then) > 0 and abs(1200.0 * math.log2(float(sound.hz[at]) / float(then[-1]))) < 2 * GROSS_CENTS


def gross_places(sound: KnownSound, heard: Heard) -> Sequence[tuple[float, float, float, float]]:
    """Where gross errors lie, within 20 ms of each other joined: (from s, to s, true Hz, cents off at worst)."""
    found = errors(sound, heard, lags_s(sound, heard))
    wrong = np.flatnonzero(found.truth.voiced & found.heard & (np.abs(found.off_cents) > GROSS_CENTS))
    runs = np.split(wrong, np.flatnonzero(np.diff(found.times_s[wrong]) > 0.02) + 1) if len(wrong) else []
    places = []
    for run in runs:
        worst = run[int(np.argmax(np.abs(found.off_cents[run])))]
        hz = float(np.exp2(found.truth.cents[worst] / 1200.0))
        places.append((float(heard.ready_s[run[0]]), float(heard.ready_s[run[-1]]), hz, float(found.off_cents[worst])))
    return places
