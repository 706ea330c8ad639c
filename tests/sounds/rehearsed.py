"""The rehearsal as a sound with exactly known truth: other reeds, levels and tunings for every seed.

A pitch is scored from the moment its tone has a tenth of its settled amplitude until it falls below that again (before,
it lies under the breath); silence is scored wherever no tone sounds at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bridge.base.units import hz_to_midi, midi_to_hz
from bridge.capture.passages import join
from bridge.capture.player import Breath, Performance, PlayedNote, perform
from bridge.capture.rehearsal import rehearsal_passages
from sounds.known import TRUTH_STEP_S, Bend, KnownSound, TruthNote
from sounds.scores import BLOW, DRAW, KEYS

RATE = 48000
BENCH_KEYS = ("low-F", "A", "D", "high-G")
BENCH_SEEDS = (1, 2, 3)
#: The weakest fundamental beside the strongest partial.
WEAKEST_FUNDAMENTAL = 0.1
_AUDIBLE_DB = -20.0
_LEVELS_DB = (-26.0, -17.0)


def rehearsed(key: str, seed: int, only: Sequence[str] | None = None, *, weak: bool = True) -> KnownSound:
    """The rehearsal on a harp in ``key``, or only some of its passages by name.

    With ``weak`` every note gets a reed whose fundamental is between 0.1 and 1 of its second harmonic, evenly in
    decibels, and a level of its own; without, reeds are as the passages have them. The seed also tunes the harp
    (A4 = 440 Hz + seed), so that no estimator gains from a grid of equal semitones. KeyError for an unknown key or
    passage.
    """
    root_hz, reeds_hz = harp_hz(key, 440.0 + seed)
    every = rehearsal_passages(root_hz, reeds_hz)
    chosen = join("rehearsal", every.values() if only is None else [every[name] for name in only])
    parts = _weakened(chosen.parts, seed) if weak else chosen.parts
    label = "rehearsal" if only is None else " and ".join(only)
    return from_performance(perform(parts, RATE, seed, length_s=chosen.length_s), f"{label}, {key}, seed {seed}")


def harp_hz(key: str, a4_hz: float) -> tuple[float, tuple[float, ...]]:
    """Root in cross position (draw 2) and every reed, in Hz, of an equally tempered harp."""
    semitones = KEYS[key]
    return midi_to_hz(DRAW[1] + semitones, a4_hz), tuple(midi_to_hz(midi + semitones, a4_hz) for midi in BLOW + DRAW)


def from_performance(performance: Performance, name: str) -> KnownSound:
    """Any performance of the synthetic player with its exact truth."""
    step = round(performance.rate * TRUTH_STEP_S)
    hz = performance.f0_hz[::step].astype(np.float64)
    level_db = performance.level_db[::step].astype(np.float64)
    scored = hz == 0.0
    times = np.arange(len(hz)) * step / performance.rate
    notes = []
    for note in performance.notes:
        inside = (times >= note.start_s) & (times < note.end_s) & (hz > 0.0)
        audible = inside & (level_db >= float(np.max(level_db[inside])) + _AUDIBLE_DB)
        scored |= audible
        notes.append(_truth_note(note, float(times[np.argmax(audible)])))
    return KnownSound(name, performance.rate, performance.samples, tuple(notes), times, hz, scored)


def _truth_note(note: PlayedNote, attack_s: float) -> TruthNote:
    """The note as tests see it; its bend leaves out how vibrato grows, which only the curve of the sound has."""
    bend = Bend(note.glide or ((0.0, 0.0),), note.vibrato_cents, note.vibrato_hz, note.vibrato_after_s)
    held = bend.held and note.wander_cents == 0.0
    return TruthNote(
        note.start_s,
        note.end_s,
        round(hz_to_midi(note.hz)),
        bend,
        attack_s,
        note.end_s,
        settled_hz=note.hz * 2.0 ** (bend.points[0][1] / 1200.0) if held else 0.0,
    )


def _weakened(parts: Sequence[PlayedNote | Breath], seed: int) -> list[PlayedNote | Breath]:
    """The same notes on other reeds, the weak ones among them, each at its own level."""
    rng = np.random.default_rng([seed, 2011])
    made: list[PlayedNote | Breath] = []
    for part in parts:
        if isinstance(part, PlayedNote):
            voice = replace(
                part.voice,
                fundamental=float(WEAKEST_FUNDAMENTAL ** rng.uniform(0.0, 1.0)),
                brightness=float(rng.uniform(0.2, 0.8)),
            )
            made.append(replace(part, voice=voice, level_db=float(rng.uniform(*_LEVELS_DB))))
        else:
            made.append(part)
    return made
