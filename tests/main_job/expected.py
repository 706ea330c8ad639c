"""What a transcription of a sampled score must say, worked out from the score alone.

The slots are those users are told of for the scale ``blues``: every semitone over the root with 50 cents to either
side, but one slot for the whole third, 265 to 430 cents above the root, whose note number is the major third's. In
cross position the root is draw 2 (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from main_job.take_files import Curve, Note
from sounds.known import TRUTH_STEP_S, KnownSound, TruthNote
from sounds.scores import DRAW, KEYS, reeds_and_bends

DEGREES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
START_WITHIN_S = 0.03
CURVE_WITHIN_CENTS = 10.0
#: A note takes its number from what it is in this first part, in which a player scoops into it.
_BEGINS_WITHIN_S = 0.1
_THIRD_LOW, _THIRD_HIGH = 265.0, 430.0


@dataclass(frozen=True)
class Wanted:
    """Note numbers that the beginning of a note allows (one, unless it glides there), degree and possible holes."""

    numbers: frozenset[int]
    degree: str
    reeds: frozenset[tuple[int, str]]


def slot(cents: float) -> tuple[int, str]:
    """Semitones above the root at which the note number sits, and the degree, of a pitch ``cents`` above the root."""
    octave, within = divmod(cents, 1200.0)
    if _THIRD_LOW <= within < _THIRD_HIGH:
        return 12 * int(octave) + 4, "3"
    # Between the reach of the third and that of the fourth the fourth is nearer.
    semitone = 5 if _THIRD_HIGH <= within < 450.0 else round(cents / 100.0) - 12 * int(octave)
    return 12 * int(octave) + semitone, DEGREES[semitone % 12]


def wanted(note: TruthNote, key: str) -> Wanted:
    """What the row of this note of the score must say on a harp in ``key``."""
    root = DRAW[1] + KEYS[key]
    since = np.arange(0.0, note.end_s - note.start_s, TRUTH_STEP_S)
    slots = [slot(100.0 * (note.midi - root) + cents) for cents in note.bend.at(since)]
    begins = slots[: round(_BEGINS_WITHIN_S / TRUTH_STEP_S)]
    degrees = [degree for _, degree in slots]
    reeds = {(hole, air) for hole, air, midi in reeds_and_bends() if midi + KEYS[key] == note.midi}
    return Wanted(
        frozenset(root + semitones for semitones, _ in begins),
        max(dict.fromkeys(degrees), key=degrees.count),
        frozenset(reeds),
    )


def unlike(sound: KnownSound, key: str, rows: list[Note]) -> list[str]:
    """A line for each note of the score that is not found, or with another number, degree or hole, and each extra."""
    lines = []
    left = list(rows)
    for note in sound.notes:
        want = wanted(note, key)
        near = [row for row in left if abs(row.start_s - note.attack_s) <= START_WITHIN_S]
        if not near:
            lines.append(f"{note.attack_s:.3f} s: note {note.midi} ({note.hole} {note.air}) not found")
            continue
        row = min(near, key=lambda row: abs(row.start_s - note.attack_s))
        left.remove(row)
        for what, found, allowed in (
            ("number", row.midi_note, want.numbers),
            ("degree", row.degree, {want.degree}),
            ("reed", (row.hole, row.air), want.reeds if note.bend.held else {(row.hole, row.air)}),
        ):
            if found not in allowed:
                lines.append(f"{note.attack_s:.3f} s, {note.hole} {note.air}: {what} {found}, not {sorted(allowed)}")
    return lines + [f"{row.start_s:.3f} s: one note too many, {row.midi_note} for {row.length_s:.3f} s" for row in left]


def curve_errors(sound: KnownSound, note: TruthNote, curve: Curve) -> tuple[np.ndarray, float]:
    """Cents off the truth, shape (n,), at each scored millisecond of a note with a pitch; and the part that has one.

    The truth is Praat's, see ``sounds.sampled``; its own interval of 1 ms is interpolated at the frame's time.
    """
    inside = (sound.times_s >= note.start_s) & (sound.times_s < note.end_s) & sound.scored & (sound.hz > 0.0)
    times = sound.times_s[inside]
    place = np.searchsorted(curve.time_s, times).clip(1, len(curve.time_s) - 1)
    place -= times - curve.time_s[place - 1] < curve.time_s[place] - times
    heard = curve.hz[place] > 0.0
    at, hz = curve.time_s[place][heard], curve.hz[place][heard]
    truth = np.exp2(np.interp(at, times, np.log2(sound.hz[inside])))
    return 1200.0 * np.abs(np.log2(hz / truth)), float(np.mean(heard))
