"""A sampled harmonica whose reeds are tuned one by one: each note is brought to its pitch by resampling.

What a note had before is Praat's settled median of it, so that the pitch afterwards is known as exactly as that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray

from sounds.sampled import RATE, play_score
from sounds.scores import BLOW, DRAW, KEYS, ScoreNote

#: O. Hansson, Theory of harmonica tuning (2004-06), table 8B, just 7-limit, in whole cents from equal.
SEVEN_LIMIT: Mapping[str, float] = {
    **{f"blow {hole}": cents for hole, cents in enumerate((0, -14, 2, 0, -14, 2, 0, -14, 2, 0), start=1)},
    **{f"draw {hole}": cents for hole, cents in enumerate((4, 2, -12, 4, -29, 6, -12, 4, -29, 6), start=1)},
}
LENGTH_S, REST_S = 1.6, 0.7


@dataclass(frozen=True)
class Straight:
    """One note of a tuning lesson: the reed, its level beside the sound font's, and how far it is bent."""

    reed: str
    level_db: float = 0.0
    bend_cents: float = 0.0
    length_s: float = LENGTH_S


def soft_and_hard(*reeds: str, fall_cents: float = 0.0, louder_db: float = 12.0) -> list[Straight]:
    """Each reed softly and hard; the pitch falls by ``fall_cents`` between, half of it to either side of its own."""
    half = fall_cents / 2.0
    return [note for reed in reeds for note in (Straight(reed, -louder_db, half), Straight(reed, 0.0, -half))]


def tuned(
    notes: Sequence[Straight], key: str, a4_hz: float, offsets: Mapping[str, float] = SEVEN_LIMIT
) -> NDArray[np.float32]:
    """The notes one after the other on a harp in ``key``, each reed ``offsets`` cents from equal at ``a4_hz``.

    Samples at ``RATE``, shape (n,), over the noise of a quiet room. Skips the test without fluidsynth.
    """
    pieces = [np.zeros(round(REST_S * RATE))]
    for note in notes:
        hz = equal_hz(midi_of(note.reed, key), a4_hz) * 2.0 ** ((offsets[note.reed] + note.bend_cents) / 1200.0)
        played = play_score((ScoreNote(0.0, note.length_s, midi_of(note.reed, key)),), note.reed)
        piece = soxr.resample(played.samples.astype(np.float64), hz / played.notes[0].settled_hz * RATE, RATE)
        pieces += [piece * 10.0 ** (note.level_db / 20.0), np.zeros(round(REST_S * RATE))]
    sound = np.concatenate(pieces)
    return np.asarray(sound + 1e-4 * np.random.default_rng(1).standard_normal(len(sound)), np.float32)


def midi_of(reed: str, key: str) -> int:
    """MIDI note of a reed such as ``draw 2`` on a harp in ``key``."""
    air, hole = reed.split(" ")
    return (BLOW if air == "blow" else DRAW)[int(hole) - 1] + KEYS[key]


def equal_hz(midi: float, a4_hz: float) -> float:
    """Frequency of a MIDI note, Hz (MIDI 1.0, 4.2.1)."""
    return float(a4_hz * 2.0 ** ((midi - 69.0) / 12.0))
