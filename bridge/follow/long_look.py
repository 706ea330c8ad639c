"""One look at tens of milliseconds: which reeds sound in it.

The pitch that the follower has may be that of either of two reeds or of a period that both have in common, so a reed
that surely sounds is found first; what its lines leave over (:mod:`bridge.follow.partials`) is of others.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bridge.follow.partials import Lines, lines

Array = NDArray[np.float64]

#: The follower's estimate is that of the middle of what it looked at, so many periods and seconds at least.
_LATE_PERIODS, _LATE_S = 1.3, 0.00315
#: The three strongest foreign lines beside the whole, in dB: surely one reed below, surely more above.
_ONE_DB, _MORE_DB = -31.0, -8.0
#: Partials of a period that two reeds have in common at which each begins, those that only a reed of that period itself
#: would have, and the share of the power below which it is none (driven, two reeds do have some).
_IN_COMMON = (
    ((5, 6), (1, 2, 3, 4), 10.0**-1.4),
    ((4, 5), (1, 2, 3), 10.0**-1.7),
    ((2, 2), (1, 3), 10.0**-1.6),
    ((3, 4), (1, 2, 5, 7), 10.0**-1.1),
    ((3, 5), (1, 2, 4), 10.0**-1.7),
    ((2, 3), (1, 5, 7), 10.0**-2.2),
)
#: A reed's first partial, or its second and third, have this share of its power at least.
_LEAST_FIRST = 10.0**-2.0
#: Of reeds with a common period the lowest partial that is this strong beside the strongest is one.
_LOWEST_REED = 10.0**-1.5
#: An overdriven amplifier adds products of two reeds at least this strong, as much stronger one than the other as the
#: reeds are, up to this factor (power).
_PRODUCTS, _PRODUCTS_ALIKE = 10.0**-3.5, 10.0**0.8
#: The older half of a look holds at least this part of the newer one's power, or the sound has only begun.
_GROWN = 0.15
#: Where the follower has no pitch, so many peaks must hold nearly all there is, or it is noise.
_TONE_PEAKS, _TONE_DB = 10, -1.0
#: Two pitches no farther apart than this are one, as a logarithm to base 2 (60 cents).
SAME = 0.05
#: Partials of a reed whose echoes may pass for another reed.
_ECHO_PARTIALS = 3
#: No two holes that neighbour each other are nearer than this, as a part of the pitch (a tone is 12 %).
_NEIGHBOUR = 0.07


class Seen(NamedTuple):
    """What one look found: foreign power in dB, the lower and the upper reed in Hz (0: none), their level apart."""

    foreign_db: float
    lower_hz: float = 0.0
    upper_hz: float = 0.0
    apart_db: float = 0.0
    reeds: int = 1

    @property
    def clean(self) -> float:
        """How surely one reed sounds, 0..1: below a half there are more."""
        return _clean(self.foreign_db)

    def same_as(self, other: Seen) -> bool:
        """Whether both name the same two reeds."""
        return same(self.lower_hz, other.lower_hz) and same(self.upper_hz, other.upper_hz)

    def names(self, hz: float) -> bool:
        """Whether this is the pitch of one of the two."""
        return same(hz, self.lower_hz) or same(hz, self.upper_hz)

    def explains(self, hz: float) -> bool:
        """Whether the two together may be taken for this pitch, lower than both, which neither of them has."""
        return 0.0 < hz < self.lower_hz and any(_whole(reed / hz) for reed in (self.lower_hz, self.upper_hz))


class LongLook:
    """Looks at samples of ``rate`` Hz in hops of ``hop`` for reeds between ``floor_hz`` and ``ceiling_hz``."""

    def __init__(self, rate: int, hop: int, floor_hz: float, ceiling_hz: float) -> None:
        self._rate = rate
        self._hop = hop
        self._range = (0.94 * floor_hz, 1.06 * ceiling_hz)

    def see(self, newest: Array, track: Array) -> Seen | None:
        """What whole hops of samples ``newest`` (n,) hold; None where that cannot be told.

        ``track`` (m,) is the pitch that the follower had in each hop, 0 for none.
        """
        half = len(newest) // 2
        if newest[:half] @ newest[:half] < _GROWN * (newest[half:] @ newest[half:]):
            return None
        hz = float(track[-1])
        found = self._lines(newest, track, hz) if hz > 0.0 else None
        if found is not None:
            for _ in range(3):
                part = _in_common(found.partials())
                if part == 1 or hz * part > self._range[1]:
                    break
                track, hz = track * part, hz * part
                found = self._lines(newest, track, hz) or found
        else:
            hz = self._strongest_hz(newest)
            found = self._lines(newest, np.full(len(track), hz), hz) if hz else None
        if found is None:
            return None
        seen = self._judged(found)
        if seen is not None and same(2.0 * seen.lower_hz, found.hz):
            # Found an octave too high.
            lower = self._lines(newest, track * 0.5, found.hz * 0.5)
            return seen if lower is None else self._judged(lower)
        return seen

    def _judged(self, found: Lines) -> Seen | None:
        """What stands between the lines of the reed found; None where echoes of its own hide that."""
        foreign_db = found.peaks_db(found.foreign)
        alone = Seen(foreign_db)
        if alone.clean >= 0.5:
            return alone
        second = found.reed_hz(found.foreign, self._range[0])
        if min(second, found.hz) < self._range[0]:
            return alone
        if _echo(second, found.hz):
            return None
        return self._named(found, second, foreign_db)

    def _named(self, found: Lines, second: float, foreign_db: float) -> Seen:
        """The reeds by their pitch, once the strongest that is not of the reed found is known."""
        rest = found.without(found.foreign, second)
        if _driven(found, second):
            for product in (2.0 * found.hz - second, 2.0 * second - found.hz, 3.0 * found.hz - 2.0 * second):
                if abs(product) > 0.5 * self._range[0]:
                    rest = found.without(rest, abs(product))
        count = 3 if _clean(found.peaks_db(rest)) < 0.5 else 2
        if second < found.hz:
            return Seen(foreign_db, second, found.hz, foreign_db, count)
        return Seen(foreign_db, found.hz, second, -foreign_db, count)

    def _lines(self, newest: Array, track: Array, hz: float) -> Lines | None:
        """Lines along ``track``; hops in which another pitch or none was found count as at ``hz``.

        Those at the octave above are of an octave's upper reed, which spoke first: it moves as the lower one does.
        """
        track = np.where(np.abs(track - 2.0 * hz) < 0.2 * hz, 0.5 * track, track)
        near = np.abs(track - hz) < 0.2 * hz
        late_s = max(_LATE_S, _LATE_PERIODS / hz)
        late = min(len(track) - 1, round(late_s * self._rate / self._hop))
        return lines(newest, np.where(near, track, hz), late, self._rate)

    def _strongest_hz(self, newest: Array) -> float:
        """The reed of the strongest partial where the follower has no pitch; 0 when it has none in range."""
        whole = lines(newest, np.full(len(newest) // self._hop, self._range[0]), 0, self._rate)
        if whole is None:
            return 0.0
        if whole.peaks_db(whole.power, _TONE_PEAKS) < _TONE_DB:
            return 0.0
        return whole.reed_hz(whole.power, self._range[0])


def _in_common(partials: list[float]) -> int:
    """Which partial of a period begins a reed: 1 where the period is a reed's, more where two have it in common."""
    for pair, others, most in _IN_COMMON:
        if len(partials) >= max(*pair, *others) and sum(partials[number - 1] for number in others) < most:
            return max(pair, key=lambda number: partials[number - 1])
    if partials[0] > _LEAST_FIRST or len(partials) < 3 or min(partials[1:3]) > _LEAST_FIRST:
        return 1
    least = _LOWEST_REED * max(partials)
    return next(number for number, power in enumerate(partials, 1) if power >= least)


def _driven(found: Lines, second: float) -> bool:
    """Whether two reeds came through an overdriven amplifier: of 2f-g and 2g-f the one is as much the stronger.

    Of a cubic the two have the amplitudes a^2 b and a b^2.
    """
    below, above = found.at(abs(2.0 * found.hz - second)), found.at(2.0 * second - found.hz)
    if min(below, above) < _PRODUCTS:
        return False
    reeds, products = found.at(found.hz) / (found.at(second) + 1e-12), below / above
    return bool(1.0 / _PRODUCTS_ALIKE < products / (reeds + 1e-12) < _PRODUCTS_ALIKE)


def _clean(foreign_db: float) -> float:
    return min(1.0, max(0.0, (foreign_db - _MORE_DB) / (_ONE_DB - _MORE_DB)))


def _whole(times: float) -> bool:
    return round(times) > 1 and abs(times - round(times)) < SAME * round(times)


def same(first_hz: float, second_hz: float) -> bool:
    """Whether two pitches are one."""
    return abs(first_hz - second_hz) < SAME * second_hz


def _echo(second_hz: float, hz: float) -> bool:
    """Whether what stands beside a reed's line is only an echo of it from before it moved."""
    partial = max(1.0, round(second_hz / hz))
    return partial <= _ECHO_PARTIALS and abs(second_hz / hz - partial) < _NEIGHBOUR * partial
