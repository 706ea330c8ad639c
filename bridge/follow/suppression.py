"""Signs that something between microphone and program takes "noise" away, as computers do for telephone calls.

Three signs, each of which a microphone and a room alone do not show (common practice, no source; our own numbers):

- before or between notes there is no sound at all, sample after sample exactly 0: a converter always gives some noise;
- right after notes it is far more silent than the room was before anything was played: rooms ring on, they do not
  hush;
- every note that is held for long fades, which is what becomes of a steady sound that is taken for noise. A player can
  do that too, so that it counts only when all of several notes do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bridge.base.events import PitchPoint

Array = NDArray[np.float64]

#: So long without any sound, in seconds, is no chance, nor a block that was lost and filled up with nothing.
_DEAD_S = 0.05
#: A pause counts from so long after its note, when the filters have come to rest, if it is so much longer; seconds.
_AFTER_S, _PAUSE_S = 0.1, 0.06
#: Pauses this far under the room's noise are no room's, dB; so many of them at least.
FALLEN_DB = 10.0
_LEAST_PAUSES = 2
#: A held note stays within so many cents for so long, seconds.
_HELD_CENTS, _HELD_S = 60.0, 1.2
#: Its level is compared between these two spans: from its beginning, and from its end back, seconds.
_EARLY_S, _LATE_S = (0.2, 0.5), (0.1, 0.4)
#: A fade, dB; so many held notes at least, all of which fade.
_FADE_DB = 8.0
_LEAST_HELD = 2
#: A pitch that is lost for longer ends a held note, seconds.
_LOST_S = 0.05


@dataclass(frozen=True, slots=True)
class Suppression:
    """What was seen: a dead room before a harp that was heard, dead pauses, how far pauses fell under the room, fades.

    ``fallen_db`` is 0 when they did not fall, ``fading`` counts held notes that fade.
    """

    dead_room: bool = False
    dead_pauses: int = 0
    fallen_db: float = 0.0
    fading: int = 0

    @property
    def at_work(self) -> bool:
        """Whether any sign was seen."""
        return self.dead_room or self.dead_pauses > 0 or self.fallen_db > 0.0 or self.fading > 0


class DeadPauses:
    """Counts the spans, after the first sound of a stream of ``rate`` Hz, in which every sample is exactly 0."""

    def __init__(self, rate: int) -> None:
        self._least = round(_DEAD_S * rate)
        self._heard = 0
        self._last_sound: int | None = None
        self._ended = 0

    @property
    def count(self) -> int:
        """How many there were so far, one that still lasts included."""
        lasts = self._last_sound is not None and self._heard - self._last_sound > self._least
        return self._ended + lasts

    def hear(self, samples: NDArray[np.float32]) -> None:
        """Take the next samples, shape (n,)."""
        sounds = self._heard + np.flatnonzero(samples)
        self._heard += len(samples)
        if not len(sounds):
            return
        before = sounds[:1] if self._last_sound is None else np.array([self._last_sound])
        self._ended += int(np.count_nonzero(np.diff(np.concatenate([before, sounds])) > self._least))
        self._last_sound = int(sounds[-1])


def fallen_db(moments_db: Array, moment_s: float, *, open_db: float, close_db: float, noise_db: float) -> float:
    """How far the pauses after notes lie under the room's noise, dB; 0 when they are as they should be.

    ``moments_db`` are the levels of moments of ``moment_s`` seconds, shape (n,), after the follower's filters, as are
    the gate's two levels and that of the room before anything was played.
    """
    after, least = round(_AFTER_S / moment_s), round(_PAUSE_S / moment_s)
    pauses: list[float] = []
    sounded, began = False, 0
    for place, level_db in enumerate([*moments_db.tolist(), np.inf]):
        if level_db < close_db:
            continue
        pause = moments_db[began + after : place]
        if sounded and len(pause) >= least:
            pauses.append(float(np.median(pause)))
        sounded |= level_db >= open_db
        began = place + 1
    if len(pauses) < _LEAST_PAUSES:
        return 0.0
    fallen = noise_db - float(np.median(pauses))
    return fallen if fallen >= FALLEN_DB else 0.0


def fading_notes(points: Sequence[PitchPoint]) -> int:
    """How many held notes fade, if there are several and all of them do; else 0. ``points`` in order of time."""
    held = [note for note in held_notes(points) if note[-1].time_s - note[0].time_s >= _HELD_S]
    fading = [note for note in held if _fell_db(note) >= _FADE_DB]
    return len(fading) if len(fading) == len(held) >= _LEAST_HELD else 0


def held_notes(points: Sequence[PitchPoint]) -> list[list[PitchPoint]]:
    """The spans in which the pitch stays where it began, each a note or a part of one; silence is left out."""
    spans: list[list[PitchPoint]] = []
    for point in points:
        if point.hz <= 0.0:
            continue
        last = spans[-1] if spans else None
        stays = (
            last is not None
            and point.time_s - last[-1].time_s <= _LOST_S
            and abs(point.cents - last[len(last) // 2].cents) <= _HELD_CENTS
        )
        if last is not None and stays:
            last.append(point)
        else:
            spans.append([point])
    return spans


def _fell_db(note: Sequence[PitchPoint]) -> float:
    """How far the level of a held note fell, dB."""
    times = np.array([point.time_s for point in note])
    levels = np.array([point.level_db for point in note])
    since, left = times - times[0], times[-1] - times
    early = levels[(since >= _EARLY_S[0]) & (since <= _EARLY_S[1])]
    late = levels[(left >= _LATE_S[0]) & (left <= _LATE_S[1])]
    return float(np.median(early) - np.median(late)) if len(early) and len(late) else 0.0
