"""Several reeds at once on the sampled harmonica: sums of renderings, each note brought to a level of its own.

Neighbouring holes, octaves (holes 1+4, 2+5 ... blown) and chords of three neighbouring holes, on a harp in any key.
The truth of the sum is that of its lower part; the notes of the other parts lie at the same times.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sounds.known import Bend, KnownSound
from sounds.sampled import ATTACK_S, play_score
from sounds.scores import BLOW, DRAW, ScoreNote, in_key

LENGTH_S, GAP_S = 0.5, 0.3
#: Loudness of each note once settled, RMS of full scale, before its part is turned down.
_RMS = 0.1


@dataclass(frozen=True)
class Holes:
    """Holes that sound together: MIDI notes on a C harp, from low to high, and what to call them."""

    name: str
    midi: tuple[int, ...]


def neighbours() -> tuple[Holes, ...]:
    """Every two neighbouring holes, blown and drawn."""
    return _chords(2)


def chords() -> tuple[Holes, ...]:
    """Every three neighbouring holes, blown and drawn."""
    return _chords(3)


def octaves() -> tuple[Holes, ...]:
    """Every two holes an octave apart, blown and drawn."""
    return tuple(
        Holes(f"{air} {row.index(low) + 1}+{row.index(low + 12) + 1}", (low, low + 12))
        for air, row in (("blow", BLOW), ("draw", DRAW))
        for low in row
        if low + 12 in row
    )


def together(
    holes: Sequence[Holes], key: str, levels_db: Sequence[float], *, detuned_cents: float = 0.0, name: str = "doubles"
) -> KnownSound:
    """The holes one after the other, their reeds from low to high at ``levels_db`` beside each other.

    Each part above the lowest is ``detuned_cents`` higher than equal. Skips the test without fluidsynth.
    """
    parts = []
    for place, level_db in enumerate(levels_db):
        bend = Bend(((0.0, detuned_cents if place else 0.0),))
        score = tuple(
            ScoreNote(0.2 + index * (LENGTH_S + GAP_S), LENGTH_S, hole.midi[place], bend)
            for index, hole in enumerate(holes)
        )
        parts.append(_levelled(play_score(in_key(score, key), f"part {place}"), level_db))
    length = max(len(part.samples) for part in parts)
    samples = np.sum([np.pad(part.samples, (0, length - len(part.samples))) for part in parts], axis=0)
    label = "/".join(f"{level_db:g}" for level_db in levels_db)
    return replace(parts[0], name=f"sampled {name}, {key}, {label} dB", samples=samples.astype(np.float32))


def _chords(count: int) -> tuple[Holes, ...]:
    return tuple(
        Holes(f"{air} " + "+".join(str(first + 1 + more) for more in range(count)), tuple(row[first : first + count]))
        for air, row in (("blow", BLOW), ("draw", DRAW))
        for first in range(len(row) - count + 1)
    )


def _levelled(sound: KnownSound, level_db: float) -> KnownSound:
    """The sound with every note, tail included, at the same loudness."""
    gain: NDArray[np.float32] = np.zeros(len(sound.samples), np.float32)
    for note in sound.notes:
        begin, end = round(note.start_s * sound.rate), round((note.end_s + 0.9 * GAP_S) * sound.rate)
        settled = sound.samples[round((note.start_s + 2 * ATTACK_S) * sound.rate) : round(note.end_s * sound.rate)]
        gain[begin:end] = _RMS * 10.0 ** (level_db / 20.0) / np.sqrt(np.mean(settled.astype(np.float64) ** 2))
    return replace(sound, samples=sound.samples * gain)
