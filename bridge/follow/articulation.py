"""When something sounds, and when the tongue strikes it afresh.

A re-strike at unchanged pitch is a sharp dip of the loudness *and* a fresh attack. Hand flutter and throat vibrato move
the level too, but smoothly: a 10 dB flutter at 7 Hz rises at most 4 dB in 14 ms (computed from a sinusoidal
amplitude), a tongued reed more than 6.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import islice

from bridge.follow.settings import GateSettings, RestrikeSettings

#: The dip before a fresh attack is looked for this long back, in seconds: longer than a tongue stays on the reed.
_DIP_LOOK_BACK_S = 0.09
#: A level this little under the loudest is not yet part of the dip, in dB.
_STILL_LOUD_DB = 3.0
#: Level and loudness rise together in an attack, but a reed's high partials come late and those of an echo fade by
#: themselves: where one rises as far as it must, the other must have come this part of the way.
_OTHER_PART = 0.5
#: Hands that flutter take the high partials far deeper than the level, but smoothly: neither the level rises sharply
#: then nor the loudness by so many dB. And either they take longer than this from loud to loud again, in seconds, or
#: the level falls by less than this, dB (in a gap of 20 ms tongued in a small room it falls by 11 and more: measured).
_SHARP_DB = 8.0
_SLOW_DIP_S = 0.056
_HANDS_DB = 8.0
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
        self._slow_hops = round(_SLOW_DIP_S / hop_s)
        self._shortest_hops = round(restrike.dip_ms / 1000.0 / hop_s)
        self._rest_hops = max(1, round(_REFRACTORY_S / hop_s))
        self._levels: deque[float] = deque(maxlen=self._dip_hops + self._rise_hops)
        self._loudness: deque[float] = deque(maxlen=self._dip_hops + self._rise_hops)
        self._open = False
        self._age = 0

    def reset(self) -> None:
        """Forget the sound so far."""
        self._levels.clear()
        self._loudness.clear()
        self._open = False
        self._age = 0

    def step(self, level_db: float, loud_db: float) -> Sounding:
        """Take the short-time level and loudness of one hop, in dBFS and dB."""
        if not self._open:
            if level_db < self._gate.open_db:
                return SILENT
            self._open = True
            self._levels.append(level_db)
            self._loudness.append(loud_db)
            self._age = 1
            return Sounding(sounds=True, attack=True, age_hops=1)
        if level_db < self._gate.close_db:
            self.reset()
            return SILENT
        self._levels.append(level_db)
        self._loudness.append(loud_db)
        self._age += 1
        since_dip = self._hops_since_dip() if self._age > self._rest_hops else 0
        if since_dip:
            self._age = since_dip
            # A dip counts once, however long the partials take to come back.
            self._levels.clear()
            self._loudness.clear()
        return Sounding(sounds=True, attack=since_dip > 0, age_hops=self._age)

    def _hops_since_dip(self) -> int:
        """Hops since the bottom that the sound rises from sharply, after a dip or very far; 0 when there is none."""
        since_low, rise = self._rise(self._levels)
        since_quiet, loud_rise = self._rise(self._loudness)
        rises = self._restrike.rise_db
        if max(rise, loud_rise) < rises or min(rise, loud_rise) < _OTHER_PART * rises:
            return 0
        loudness, levels = list(self._loudness), list(self._levels)
        bottom = len(levels) - since_low
        rested = max(levels[max(0, bottom - self._rest_hops) : bottom], default=levels[bottom])
        if rise >= self._restrike.alone_db and rested - levels[bottom] < rises:
            return since_low  # out of the even noise of a room
        bottom = len(loudness) - since_quiet
        before = loudness[max(0, bottom - self._dip_hops) : bottom]
        loudest = max(before, default=loudness[bottom])
        if loudest - loudness[bottom] < self._restrike.dip_db:
            return 0
        full = max(levels[max(0, bottom - self._dip_hops) : bottom])
        if levels[-1] < full - self._restrike.return_db:
            return 0  # the unevenness of a tail that dies away in a room
        last_loud = next(i for i in range(bottom, -1, -1) if loudness[i] >= loudest - _STILL_LOUD_DB)
        dip_hops = len(loudness) - 1 - last_loud
        # Sooner it is the first echo of a note that has just ended; later it may be hands that open again.
        echo = dip_hops < self._shortest_hops
        as_hands = dip_hops >= self._slow_hops or full - min(levels[-dip_hops:]) <= _HANDS_DB
        hands = as_hands and rise < rises and loud_rise < _SHARP_DB
        return 0 if echo or hands else since_quiet

    def _rise(self, track: deque[float]) -> tuple[int, float]:
        """Hops since the lowest of the last few, and how far it has risen since, in dB."""
        recent = list(islice(reversed(track), self._rise_hops + 1))
        floor = min(recent)
        return 1 + recent.index(floor), recent[0] - floor
