"""Whether a note whose pitch is lost has ended, or is only hidden by a noise that lies over it.

A slap or a key click hides the pitch of a held note for some tens of ms and leaves the level up, and so do reeds that
join it; the tongue and the end of the breath take it down. So it is the level that tells them apart: the note's own,
that of the frames in which its pitch is heard, since what hides it may be far louder.
"""

from __future__ import annotations

import math

from bridge.base.units import SILENCE_DB
from bridge.quantise.settings import DropoutSettings

#: How fast the remembered level of a note follows one that fades, dB a second.
_FADE_DB_PER_S = 20.0
#: A level no further than this under the note's own is still up, dB; a stroke of the tongue takes it further down, so
#: long before its attack at most, in seconds.
_STILL_UP_DB = 3.0
_DIP_S = 0.06
#: While the level stays up a lost pitch is waited for so many times longer: a slap 20 dB louder than the note that
#: decays by a factor of e in 25 ms hides it for some 60 ms.
_UP_TIMES = 3.0
#: So much longer where what hides it is other reeds: until it is known which they are, its own goes on.
_REEDS_TIMES = 10.0
#: Less clean than this, more than one reed sounds.
_SEVERAL = 0.5


class Holding:
    """Level and losses of one note. Times in seconds and never going back, levels in dBFS."""

    def __init__(self, settings: DropoutSettings) -> None:
        self._hold_s = settings.hold_ms / 1000.0
        self._dip_db = settings.dip_db
        self._dipped = -math.inf
        #: The note's own level.
        self.loud_db = SILENCE_DB
        #: When its pitch was lost; None while it is heard.
        self.lost_since: float | None = None
        #: Whether it has been lost for longer than a moment of doubt.
        self.hidden = False

    def begin(self, level_db: float) -> None:
        """A note begins."""
        self.loud_db = level_db
        self._dipped = -math.inf
        self.lost_since = None
        self.hidden = False

    def listen(self, time_s: float, level_db: float, elapsed_s: float) -> None:
        """Take the level of each frame while the note sounds, ``elapsed_s`` after the one before."""
        self.loud_db -= _FADE_DB_PER_S * elapsed_s
        if level_db < self.loud_db - _STILL_UP_DB:
            self._dipped = time_s

    def hear(self, level_db: float) -> None:
        """The note's pitch is heard in this frame."""
        self.lost_since = None
        self.hidden = False
        self.loud_db = max(self.loud_db, level_db)

    def lose(self, time_s: float, level_db: float, clean: float = 1.0) -> bool:
        """The note's pitch is not heard in this frame, of so much ``clean``: whether that ends it."""
        if self.lost_since is None:
            self.lost_since = time_s
        lost_s = time_s - self.lost_since
        self.hidden = lost_s >= self._hold_s
        hold_s = self._hold_s
        if level_db >= self.loud_db - _STILL_UP_DB:
            hold_s *= _REEDS_TIMES if clean < _SEVERAL else _UP_TIMES
        return level_db < self.loud_db - self._dip_db or lost_s >= hold_s

    def is_struck(self, time_s: float) -> bool:
        """Whether an attack at ``time_s`` is a stroke of the tongue: one that stopped the reed, and no mere knock."""
        return time_s - self._dipped <= _DIP_S
