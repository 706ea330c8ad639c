"""Single tones out of a stream of frames: each, once it has ended, summed up by its pitch, its level and its kind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from bridge.base.events import PitchFrame
from bridge.base.units import cents_between, hz_above

#: A reed has come to its pitch by then, and begins to let go of it so long before its end, in seconds.
_SETTLED_S, _RELEASE_S = 0.25, 0.1
#: A tone ends in so long a silence, or when it jumps this far for so long; seconds and cents.
_SILENCE_S, _JUMP_CENTS, _JUMP_S = 0.06, 80.0, 0.03
#: What is shorter is a click or a piece of a word, and no tone; what is longer tells nothing more; seconds.
_SHORTEST_S, _LONGEST_S = 0.1, 10.0


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone from attack to end; all but ``start_s`` and ``length_s`` is of the part in which it was held.

    ``hz`` and ``level_db`` (dBFS) are medians; ``spread_cents`` is one standard deviation, or what would be one if
    single frames far off did not count; ``slide_cents`` how far the last third lies above the first. ``clean``,
    ``reed`` and ``bright`` are medians of what the frames say, 0..1; ``reeds`` is how many sounded for most of it.
    """

    start_s: float
    length_s: float
    hz: float
    spread_cents: float
    slide_cents: float
    level_db: float
    clean: float
    reed: float
    bright: float
    reeds: int


class Tones:
    """Takes the frames of one stream in order and gives each tone when it has ended."""

    def __init__(self) -> None:
        self._tone: list[PitchFrame] = []
        self._away: list[PitchFrame] = []
        self._last_s = 0.0

    @property
    def sounding(self) -> bool:
        """Whether a tone sounds now."""
        return bool(self._tone)

    def step(self, frame: PitchFrame) -> Tone | None:
        """Take the next frame; the tone that it ends, if any."""
        if not self._tone:
            if frame.hz > 0.0:
                self._begin([frame])
            return None
        if frame.hz <= 0.0:
            return self.finish() if frame.time_s - self._last_s > _SILENCE_S else None
        if frame.attack or frame.time_s - self._last_s > _SILENCE_S:
            return self._end([frame])
        if abs(cents_between(frame.hz, self._tone[-1].hz)) > _JUMP_CENTS:
            return self._leap(frame)
        self._away = []
        self._last_s = frame.time_s
        # A drone is not kept as a whole: its beginning tells what it is.
        if frame.time_s - self._tone[0].time_s <= _LONGEST_S:
            self._tone.append(frame)
        return None

    def finish(self) -> Tone | None:
        """The tone that sounds, as if it ended now; None when nothing sounds or it is too short to be one."""
        return self._end([])

    def _leap(self, frame: PitchFrame) -> Tone | None:
        """A pitch far from the tone's: another tone if it stays there, else a slip of the follower."""
        if self._away and abs(cents_between(frame.hz, self._away[-1].hz)) > _JUMP_CENTS:
            self._away = []
        self._away.append(frame)
        self._last_s = frame.time_s
        return self._end(self._away) if frame.time_s - self._away[0].time_s >= _JUMP_S else None

    def _begin(self, frames: list[PitchFrame]) -> None:
        self._tone, self._away = frames, []
        self._last_s = frames[-1].time_s if frames else 0.0

    def _end(self, following: list[PitchFrame]) -> Tone | None:
        frames, end_s = self._tone, self._last_s
        self._begin(following)
        return _summed_up(frames, end_s) if frames and end_s - frames[0].time_s >= _SHORTEST_S else None


def _summed_up(frames: Sequence[PitchFrame], end_s: float) -> Tone:
    """The tone of these frames, which ended at ``end_s``."""
    start_s = frames[0].time_s
    last_s = min(end_s, frames[-1].time_s) - _RELEASE_S
    held = [frame for frame in frames if start_s + _SETTLED_S <= frame.time_s <= last_s] or list(frames)
    cents = np.array([cents_between(frame.hz, held[0].hz) for frame in held])
    low, middle, high = np.percentile(cents, (15.87, 50.0, 84.13))
    third = max(1, len(cents) // 3)

    def usual(values: Iterable[float]) -> float:
        return float(np.median(list(values)))

    return Tone(
        start_s,
        end_s - start_s,
        hz_above(held[0].hz, float(middle)),
        spread_cents=float(high - low) / 2.0,
        slide_cents=usual(cents[-third:]) - usual(cents[:third]),
        level_db=usual(frame.level_db for frame in held),
        clean=usual(frame.clean for frame in held),
        reed=usual(frame.reed for frame in held),
        bright=usual(frame.bright for frame in held),
        reeds=round(usual(frame.reeds for frame in held)),
    )
