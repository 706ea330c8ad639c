"""When a sound that has begun is sure enough to be a note, and on which pitch.

A free reed does not speak at once: its first cycles are irregular (Cottingham and Wolff, 2015), and on the sampled
harmonica of a General MIDI sound font it slides up to its pitch while it grows, by up to 150 cents (measured). So the
note is taken from where the pitch is heading, as soon as that lies well inside a slot, or pitch and level stand still,
or patience runs out.
"""

from __future__ import annotations

from collections import deque

from bridge.quantise.settings import OnsetSettings
from bridge.quantise.slots import Place, Scale

#: In a narrow slot this part of the way from border to anchor is clear enough.
_CLEAR_PART = 0.7
#: A pitch this near a border, cents, is not sure even when it is still.
_ON_THE_BORDER = 15.0
#: A sound that falls by more than this within what is watched dies away: a knock, or a note that is over, dB.
_DYING_DB = 1.0
#: A reed speaks within so long after its attack, in seconds: a pitch that comes later has been waited for already.
_SPEAKS_S = 0.04


class Onset:
    """Watches the first frames of a sound. Times in seconds, cents above the root, levels in dBFS."""

    def __init__(self, settings: OnsetSettings, scale: Scale) -> None:
        self._settings = settings
        self._scale = scale
        self._settle_s = settings.settle_ms / 1000.0
        self._quick_s = settings.quick_ms / 1000.0
        self._patience_s = settings.patience_ms / 1000.0
        self._ahead_s = settings.ahead_ms / 1000.0
        self._recent: deque[tuple[float, float, float]] = deque()
        self._since = 0.0

    def begin(self, time_s: float, struck_s: float) -> None:
        """A sound that was struck at ``struck_s`` has a pitch from ``time_s`` on: forget the last one."""
        self._recent.clear()
        self._since = min(time_s, struck_s + _SPEAKS_S)

    def feed(
        self, time_s: float, cents: float, level_db: float, last: Place | None, *, several: bool = False
    ) -> float | None:
        """Hear one frame; the pitch the sound is heading for, in cents, once that is sure, None before.

        ``last`` is the place of the note that ended a moment ago: when nothing else is clear it is struck again.
        ``several`` is whether this is the pitch of one of several reeds. Only a long look tells those, and while the
        level grows it may have seen what sounded before.
        """
        recent = self._recent
        if recent and abs(cents - recent[-1][1]) > self._settings.settle_cents:
            recent.clear()
        recent.append((time_s, cents, level_db))
        while len(recent) > 1 and time_s - recent[1][0] >= self._settle_s:
            recent.popleft()
        then_s, then_cents, then_db = recent[0]
        passed = time_s - then_s
        grows_db = level_db - then_db
        if grows_db < -_DYING_DB or (several and grows_db > self._settings.still_db):
            return None
        if passed < self._settle_s:
            return cents if passed >= self._quick_s and self._is_steady(cents) else None
        slope = (cents - then_cents) / passed if passed else 0.0
        heading = cents + slope * self._ahead_s
        still = abs(cents - then_cents) <= self._settings.still_cents and abs(grows_db) <= self._settings.still_db
        if self._is_sure(heading, still=still):
            return heading
        if time_s - self._since < self._patience_s:
            return None
        if last is not None and last.keeps(cents) and last.keeps(heading):
            return last.anchor
        return heading if still else heading + self._settings.flat_cents

    def _is_steady(self, cents: float) -> bool:
        """Whether the pitch has stood still near an anchor ever since it was first heard: nothing more will come."""
        low = min(item[1] for item in self._recent)
        high = max(item[1] for item in self._recent)
        off = abs(cents - self._scale.place(cents).anchor)
        return high - low <= self._settings.quick_still_cents and off <= self._settings.quick_cents

    def _is_sure(self, heading: float, *, still: bool) -> bool:
        place = self._scale.place(heading)
        off = heading - place.anchor
        border = place.slot.high - place.slot.anchor if off > 0.0 else place.slot.anchor - place.slot.low
        clear = _ON_THE_BORDER if still else min(self._settings.clear_cents, _CLEAR_PART * border)
        return border - abs(off) >= clear
