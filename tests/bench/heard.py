"""What an estimator heard, as arrays; several sounds can be joined into one long one, to be scored together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bridge.base.events import PitchFrame
from sounds.known import Floats, KnownSound

#: Between joined sounds, in seconds.
_APART_S = 1.0


@dataclass(frozen=True, eq=False)
class Heard:
    """Frames in stream order: when each was ready, the instant it says it describes (s), its pitch (Hz, 0 = none)."""

    ready_s: Floats
    time_s: Floats
    hz: Floats


def heard(frames: Sequence[PitchFrame]) -> Heard:
    """The frames of a follower."""
    columns = np.array([(frame.ready_s, frame.time_s, frame.hz) for frame in frames], dtype=np.float64).reshape(-1, 3)
    return Heard(columns[:, 0], columns[:, 1], columns[:, 2])


def joined(parts: Sequence[tuple[KnownSound, Heard]]) -> tuple[KnownSound, Heard]:
    """The sounds one after another, without their samples, and what was heard in them."""
    offset = 0.0
    notes, times, hears = [], [], []
    for sound, hear in parts:
        times.append(sound.times_s + offset)
        hears.append(Heard(hear.ready_s + offset, hear.time_s + offset, hear.hz))
        notes += [
            replace(
                note,
                start_s=note.start_s + offset,
                end_s=note.end_s + offset,
                attack_s=note.attack_s + offset,
                silent_s=note.silent_s + offset,
            )
            for note in sound.notes
        ]
        offset += sound.length_s + _APART_S
    first = parts[0][0]
    whole = KnownSound(
        name=" + ".join(sound.name for sound, _ in parts),
        rate=first.rate,
        samples=np.zeros(0, np.float32),
        notes=tuple(notes),
        times_s=np.concatenate(times),
        hz=np.concatenate([sound.hz for sound, _ in parts]),
        scored=np.concatenate([sound.scored for sound, _ in parts]),
    )
    return whole, Heard(
        np.concatenate([hear.ready_s for hear in hears]),
        np.concatenate([hear.time_s for hear in hears]),
        np.concatenate([hear.hz for hear in hears]),
    )
