"""Whether one reed sounds or several, from long looks at the spectrum.

A look takes the newest 43 ms, every eighth hop, and every sixteenth once a reed has long sounded alone; what it found
holds until the next. The pitch that the follower has may be that of either reed or of a period that both have in common
(:mod:`bridge.follow.long_look`).

Two notes in turn are in one look together too, and a room keeps the old one ringing. So a second reed counts only when
some looks agree, and one whose pitch was followed a moment ago only when both have stood for longer than any warble
holds a note, neither growing nor fading much. After silence nothing rings on any more.

An octave is one note, the lower: no look can tell it from a reed with strong even partials, and it counts as clean.
"""

from __future__ import annotations

import math
from collections import deque
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bridge.follow.long_look import SAME, LongLook, Seen, same

Array = NDArray[np.float64]

_LOOK_S = 2048 / 48000
_LOOK_PERIODS = 7.2
_LOOK_HOPS = 8
#: After so many looks running at one reed alone each second one is left out.
_SETTLED_LOOKS = 6
#: How exactly a line is known that stands close beside others, Hz.
_BLUR_HZ = 10.0
#: Seconds for which a pitch that was followed may ring on, and that two reeds must stand to be no echo.
_RINGS_S, _STANDS_S = 0.3, 0.16
#: What their levels may vary beside each other meanwhile, dB.
_STANDS_DB = 9.0
#: In so many of the looks meanwhile both are named alike.
_STANDS_SHARE = 0.7
#: Hops for which the follower may have the pitch of neither reed before a new note is believed.
_STRAY_HOPS = 16
#: Looks running that must name the same two reeds.
_AGREE_LOOKS = 3
#: Looks running in which the follower has the pitch of neither, after which they are no echo where one was never heard
#: alone: of two notes in turn both were.
_ASTRAY_LOOKS = 8
#: Two reeds that were found are as sure as this.
_SURE = 0.9
#: Several reeds at once look like none, and a voice like several: so likely are they reeds rather than a voice.
_SEVERAL = 0.3
#: Two stand still, as a voice hardly ever does, when for so many looks running neither moves farther from one to the
#: next than this part of its pitch (10 cents).
_STILL_LOOKS, _STILL = 3, 0.006
#: They reach up as reeds do when so much of their power lies above this frequency, Hz: a voice falls off before.
_REACH_HZ, _REACH = 3700.0, 0.01
#: Pitches remembered at most.
_MOST_FOLLOWED = 40
#: Looks without the second reed after which it has ended.
_ENDED_LOOKS = 3


class Reeds(NamedTuple):
    """The pitch to be followed in Hz, how surely one reed sounds (0..1), a second one's Hz (0: none), and how many.

    ``like_reeds`` says of several that they stand still and reach up as no voice does.
    """

    hz: float
    clean: float
    second_hz: float = 0.0
    reeds: int = 1
    like_reeds: bool = False

    @property
    def reed(self) -> float:
        """How surely several reeds sound rather than a voice, 0..1; 0 of one, which shows by itself."""
        if self.reeds == 1:
            return 0.0
        return _SURE if self.like_reeds else _SEVERAL

    @property
    def sure(self) -> float:
        """How sure the pitch is by itself, 0..1: 0 where it is the follower's alone."""
        return _SURE if self.reeds > 1 else 0.0


class TwoReeds:
    """Watches hops of ``hop`` samples at ``rate`` Hz; ``keep`` is how many samples before their end it reads.

    Reeds between ``floor_hz`` and ``ceiling_hz`` are looked for.
    """

    def __init__(self, rate: int, hop: int, floor_hz: float, ceiling_hz: float) -> None:
        self._rate = rate
        self._hop = hop
        self._long_look = LongLook(rate, hop, floor_hz, ceiling_hz)
        self._most_hops = math.ceil(max(_LOOK_S, _LOOK_PERIODS / floor_hz) * rate / hop)
        self.keep = self._most_hops * hop
        look_s = _LOOK_HOPS * hop / rate
        self._track: deque[float] = deque(maxlen=self._most_hops)
        self._followed: deque[tuple[float, int]] = deque(maxlen=_MOST_FOLLOWED)
        self._rings_hops = math.ceil(_RINGS_S * rate / hop)
        self._now = 0
        self._seen: deque[Seen] = deque(maxlen=math.ceil(_STANDS_S / look_s))
        self._age = 0
        self._clean: float | None = None
        self._pair: Seen | None = None
        self._last_pair: Seen | None = None
        self._alone = False
        self._still = self._single = 0
        self._like_reeds = False
        self._missed = self._strayed = self._astray = 0

    def rest(self) -> None:
        """Silence: what sounds next has no echo of what sounded before."""
        self.release()
        self._followed.clear()
        self._last_pair = None

    def release(self) -> None:
        """A fresh attack: what sounded before counts only as an echo."""
        self._track.clear()
        self._seen.clear()
        self._age = 0
        self._clean = None
        self._pair = None
        self._alone = False
        self._still = self._astray = self._single = 0
        self._like_reeds = False

    def step(self, samples: Array, end: int, hz: float, likely_clean: float) -> Reeds:
        """What sounds in the hop that ends at ``samples[end]``.

        ``hz`` is the pitch that the follower has, 0 for none; ``likely_clean`` counts until the first look.
        """
        self._track.append(hz)
        self._age += 1
        self._now += 1
        if hz > 0.0:
            self._remember(hz)
        every = _LOOK_HOPS if self._single < _SETTLED_LOOKS else 2 * _LOOK_HOPS
        if self._age % every == 0:
            self._look(samples, end, hz)
        clean = likely_clean if self._clean is None else self._clean
        pair = self._pair
        if pair is None:
            nobodys = self._astray > 0 and self._seen[-1].explains(hz)
            return Reeds(0.0 if nobodys else hz, clean)
        return self._two(pair, hz, clean)

    def _two(self, pair: Seen, hz: float, clean: float) -> Reeds:
        """The reed that the follower's pitch belongs to first; a pitch of neither is that of a new note."""
        lower, upper = pair.lower_hz, pair.upper_hz
        like_reeds = self._like_reeds
        if hz > 0.0:
            if same(hz, lower):
                return Reeds(hz, clean, upper, pair.reeds, like_reeds)
            if same(hz, upper):
                return Reeds(hz, clean, lower, pair.reeds, like_reeds)
            if not (_part(hz, lower) or _part(hz, upper)):
                self._strayed += 1
                if self._strayed <= _STRAY_HOPS:
                    return Reeds(lower, clean, upper, pair.reeds, like_reeds)
                self._pair = None
                self._alone = True
                return Reeds(hz, clean)
        return Reeds(lower, clean, upper, pair.reeds, like_reeds)

    def _look(self, samples: Array, end: int, hz: float) -> None:
        hops = min(self._age, self._most_hops)
        newest = samples[end - hops * self._hop : end]
        seen = self._long_look.see(newest, np.array(self._track)[-hops:])
        if seen is None:
            self._single = 0
            self._miss()
            return
        self._single = self._single + 1 if seen.reeds == 1 else 0
        recent = [*self._seen][-_AGREE_LOOKS + 1 :]
        self._still = self._still + 1 if recent and _still(seen, recent[-1]) else 0
        self._like_reeds = self._still >= _STILL_LOOKS and _reaches_up(newest, self._rate)
        self._seen.append(seen)
        several = bool(recent) and min(seen.reeds, recent[-1].reeds) > 1
        self._astray = self._astray + 1 if several and not seen.names(hz) else 0
        if self._agreed(seen, recent) and (self._pair is not None or self._at_once(seen, hz) or self._stands()):
            if self._pair is None or seen.same_as(self._pair) or self._named_alike(seen, recent):
                reeds = min(look.reeds for look in (seen, *recent))
                self._pair = self._last_pair = seen._replace(reeds=reeds)
            self._clean = seen.clean
            self._missed = self._strayed = 0
            return
        self._miss()
        if self._pair is None and seen.reeds == 1:
            self._alone = True
            self._clean = max(seen.clean, recent[-1].clean if recent else 0.0)
        elif self._pair is None and self._astray:
            self._clean = seen.clean

    def _miss(self) -> None:
        """A look found no two reeds, or nothing at all, as when they have ended in noise."""
        if self._pair is not None and self._missed < _ENDED_LOOKS:
            self._missed += 1
        else:
            self._pair = None

    def _agreed(self, seen: Seen, recent: list[Seen]) -> bool:
        """Whether the looks before saw more than one reed too, and to begin with the same two."""
        if len(recent) < _AGREE_LOOKS - 1:
            return False
        if self._pair is not None:
            return min(seen.reeds, recent[-1].reeds) > 1
        return seen.reeds > 1 and self._named_alike(seen, recent)

    @staticmethod
    def _named_alike(seen: Seen, recent: list[Seen]) -> bool:
        """Whether the looks before named the same two."""
        return all(look.reeds > 1 and look.same_as(seen) for look in recent)

    def _at_once(self, seen: Seen, hz: float) -> bool:
        """Whether the two began together: nothing sounded alone before, or the same two did a moment ago."""
        if self._alone:
            return False
        return not self._rings(seen, hz) or (self._last_pair is not None and seen.same_as(self._last_pair))

    def _rings(self, seen: Seen, hz: float) -> bool:
        """Whether one that is not followed now may be an older note that rings on: it was, just before this sound."""
        began = self._now - self._age
        old = [past for past, heard in self._followed if self._now - self._rings_hops < heard <= began]
        return any(
            abs(past * part - reed) < max(SAME * reed, _BLUR_HZ)
            for reed in (seen.lower_hz, seen.upper_hz)
            if not same(reed, hz)
            for past in old
            for part in (1.0, 2.0, 3.0)
        )

    def _remember(self, hz: float) -> None:
        """Keep every pitch that is followed, and when it last was."""
        if self._followed and abs(self._followed[-1][0] - hz) < 0.01 * hz:
            self._followed[-1] = (hz, self._now)
        else:
            self._followed.append((hz, self._now))

    def _stands(self) -> bool:
        """Whether the two have sounded for long at levels that hold beside each other."""
        last = self._seen[-1]
        joined = self._astray >= _ASTRAY_LOOKS and not self._in_turn(last)
        needed = _ASTRAY_LOOKS if joined else self._seen.maxlen or 0
        looks = [*self._seen][-needed:]
        if len(looks) < needed or any(seen.reeds == 1 for seen in looks):
            return False
        apart = [seen.apart_db for seen in looks if seen.same_as(last)]
        return len(apart) > _STANDS_SHARE * len(looks) and max(apart) - min(apart) < _STANDS_DB

    def _in_turn(self, seen: Seen) -> bool:
        """Whether both were followed a moment ago."""
        lately = [past for past, heard in self._followed if self._now - heard < self._rings_hops]
        return all(any(same(past, reed) for past in lately) for reed in (seen.lower_hz, seen.upper_hz))


def _part(hz: float, reed_hz: float) -> bool:
    """Whether ``hz`` is a whole part of a reed's pitch, as of a period in common, or a partial of it."""
    times = max(1.0, round(reed_hz / hz))
    return abs(reed_hz / hz - times) < SAME * times


def _still(seen: Seen, before: Seen) -> bool:
    """Whether both looks found the same two reeds, and neither had moved."""
    if min(seen.reeds, before.reeds) == 1:
        return False
    pairs = ((seen.lower_hz, before.lower_hz), (seen.upper_hz, before.upper_hz))
    return all(abs(now - then) < _STILL * then for now, then in pairs)


def _reaches_up(samples: Array, rate: int) -> bool:
    """Whether partials reach evenly up, as where reeds cut the air off sharply."""
    spectrum = np.fft.rfft(samples * np.hanning(len(samples)))
    power = spectrum.real**2 + spectrum.imag**2
    return bool(power[math.ceil(_REACH_HZ * len(samples) / rate) :].sum() > _REACH * power.sum())
