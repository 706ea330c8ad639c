"""The sounds of the benchmark, each with the harp it was played on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from bridge.capture.player import Breath, PlayedNote, perform
from bridge.capture.reed_tone import ReedVoice
from bridge.harp.harp import make_harp
from sounds.dirt import DIRT
from sounds.known import KnownSound
from sounds.rehearsed import (
    BENCH_KEYS,
    BENCH_SEEDS,
    RATE,
    WEAKEST_FUNDAMENTAL,
    from_performance,
    harp_hz,
    rehearsed,
)
from sounds.sampled import play_score, sampled
from sounds.scores import SCORES, Score, in_key

CLEAN = "clean"
CONDITIONS = (CLEAN, *DIRT)
GROUPS = ("rehearsal", "sampled")
SAMPLED_KEYS = ("low-F", "A", "D", "high-G")
_POSITION = 2
_SEMITONE = 2.0 ** (1.0 / 12.0)


@dataclass(frozen=True, eq=False)
class Case:
    """A sound and what the player told the bridge: the harp's key and its A4 in Hz; position cross."""

    sound: KnownSound
    key: str
    a4_hz: float

    @cached_property
    def root_hz(self) -> float:
        """The tonic in Hz."""
        return make_harp(self.key, _POSITION, self.a4_hz).root_hz

    @cached_property
    def root_midi(self) -> int:
        """The tonic's MIDI note."""
        return make_harp(self.key, _POSITION, self.a4_hz).root_midi

    @cached_property
    def floor_hz(self) -> float:
        """The lowest pitch to be followed: the harp's lowest reed less a semitone."""
        return make_harp(self.key, _POSITION, self.a4_hz).lowest_hz / _SEMITONE

    def dirtied(self, condition: str) -> Case:
        """The same case through one of ``CONDITIONS``; KeyError for another."""
        return self if condition == CLEAN else replace(self, sound=DIRT[condition](self.sound))


def rehearsal_case(key: str, seed: int, only: Sequence[str] | None = None) -> Case:
    """The rehearsal, or some of its passages, on weak reeds; see :func:`sounds.rehearsed.rehearsed`."""
    return Case(rehearsed(key, seed, only), key, 440.0 + seed)


def sampled_case(name: str, key: str) -> Case:
    """A score of the sampled harmonica; see :func:`sounds.sampled.sampled`."""
    return Case(sampled(name, key), key, 440.0)


def score_case(score: Score, key: str, name: str) -> Case:
    """Any score (written for a C harp) on the sampled harmonica in ``key``."""
    return Case(play_score(in_key(score, key), f"sampled {name}, {key}"), key, 440.0)


def played_case(parts: Sequence[PlayedNote | Breath], key: str, name: str, length_s: float | None = None) -> Case:
    """Any notes of the synthetic player, on a harp in ``key`` with A4 = 440 Hz."""
    return Case(from_performance(perform(parts, RATE, 7, length_s=length_s), name), key, 440.0)


def high_case(key: str, seed: int) -> Case:
    """The four highest reeds of a harp bent a semitone and a half, with vibrato: what the rehearsal has only lower."""
    rng = np.random.default_rng([seed, 97])
    reeds = sorted(harp_hz(key, 440.0 + seed)[1])[-4:]
    bend = ((0.2, 0.0), (0.35, -150.0), (0.5, 0.0))
    parts = [
        PlayedNote(
            0.2 + 1.2 * index,
            1.0,
            hz,
            bend,
            vibrato_hz=6.0,
            vibrato_cents=40.0,
            vibrato_after_s=0.5,
            voice=ReedVoice(fundamental=float(WEAKEST_FUNDAMENTAL ** rng.uniform(0.0, 1.0))),
        )
        for index, hz in enumerate(reeds)
    ]
    return Case(from_performance(perform(parts, RATE, seed), f"high bends, {key}, seed {seed}"), key, 440.0 + seed)


def clean_cases(group: str, *, quick: bool = False) -> list[Case]:
    """All sounds of a group of ``GROUPS``, or a few of them."""
    if group == "rehearsal":
        if quick:
            return [rehearsal_case(key, 1, QUICK_PASSAGES) for key in ("low-F", "D")] + [high_case("D", 1)]
        return [make(key, seed) for seed in BENCH_SEEDS for key in BENCH_KEYS for make in (rehearsal_case, high_case)]
    if quick:
        return [sampled_case(name, "A") for name in ("phrase", "vibrato")]
    return [sampled_case(name, key) for key in SAMPLED_KEYS for name in SCORES]


#: Those passages of the rehearsal that move, change holes or span the harp.
QUICK_PASSAGES = ("released third", "fast bends", "alternation", "weak fundamental", "whole range", "vibrato")
