"""When something sounds, and when the tongue strikes it afresh.

A re-strike at unchanged pitch is a sharp dip of the level *and* a fresh attack. Hand flutter and throat vibrato move
the level too, but smoothly: a 10 dB flutter at 7 Hz rises at most 4 dB in 14 ms (computed from a sinusoidal
amplitude), a tongued reed more than 6.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from bridge.follow.settings import GateSettings, RestrikeSettings

#: The dip before a fresh attack is looked for this long back, in seconds: longer than a tongue stays on the reed.
_DIP_LOOK_BACK_S = 0.09
#: A level this little under the loudest is not yet part of the dip, in dB.
_STILL_LOUD_DB = 3.0
#: Two attacks are at least this far apart, in seconds; the fastest tongues repeat some 12 times a second.
_REFRACTORY_S = 0.045


@dataclass(frozen=True, slots=True)
class Sounding:
    """Whether something sounds, whether it has just been struck, and how many hops ago that was."""

    sounds: bool
    attack: bool
    age_hops: int


SILENT = Sounding(sounds=False, attack=False, age_hops=0)


class Articulation:
    """Gate and re-strikes from one level a hop; ``hop_s`` is the time from hop to hop in seconds."""

    def __init__(self, gate: GateSettings, restrike: RestrikeSettings, hop_s: float) -> None:
        self._gate = gate
        self._restrike = restrike
        self._rise_hops = max(1, round(restrike.rise_ms / 1000.0 / hop_s))
        self._dip_hops = max(2, round(_DIP_LOOK_BACK_S / hop_s))
        self._shortest_hops = round(restrike.dip_ms / 1000.0 / hop_s)
        self._rest_hops = max(1, round(_REFRACTORY_S / hop_s))
        self._levels: deque[float] = deque(maxlen=self._dip_hops + self._rise_hops)
        self._open = False
        self._age = 0

    def reset(self) -> None:
        """Forget the sound so far."""
        self._levels.clear()
        self._open = False
        self._age = 0

    def step(self, level_db: float) -> Sounding:
        """Take the short-time level of one hop in dBFS."""
        if not self._open:
            if level_db < self._gate.open_db:
                return SILENT
            self._open = True
            self._levels.clear()
            self._levels.append(level_db)
            self._age = 1
            return Sounding(sounds=True, attack=True, age_hops=1)
        if level_db < self._gate.close_db:
            self.reset()
            return SILENT
        self._levels.append(level_db)
        self._age += 1
        since_dip = self._hops_since_dip(level_db) if self._age > self._rest_hops else 0
        if since_dip:
            self._age = since_dip
        return Sounding(sounds=True, attack=since_dip > 0, age_hops=self._age)

    def _hops_since_dip(self, level_db: float) -> int:
        """Hops since the bottom that this level rises from sharply, after a dip or very far; 0 when there is none."""
        recent = list(self._levels)
        floor = min(recent[-self._rise_hops - 1 :])
        if level_db - floor < self._restrike.rise_db:
            return 0
        bottom = len(recent) - 1 - recent[::-1].index(floor)
        before = recent[max(0, bottom - self._dip_hops) : bottom]
        rest = max(before[-self._rest_hops :], default=floor) - floor
        if level_db - floor >= self._restrike.alone_db and rest < self._restrike.rise_db:
            return len(recent) - bottom  # out of the even noise of a room
        loudest = max(before, default=floor)
        if loudest - floor < self._restrike.dip_db:
            return 0
        if level_db < loudest - self._restrike.return_db:
            return 0  # the unevenness of a tail that dies away in a room
        last_loud = next(index for index in range(bottom, -1, -1) if recent[index] >= loudest - _STILL_LOUD_DB)
        if len(recent) - 1 - last_loud < self._shortest_hops:
            return 0  # the first echo of a note that has just ended
        return len(recent) - bottom
