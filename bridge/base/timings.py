"""How long something takes, counted over and over in memory that never grows."""

from __future__ import annotations

import math
from array import array

#: The shortest and the longest time that are told apart, in seconds, and how many steps lie in a doubling.
_LEAST_S, _MOST_S = 1e-6, 1024.0
_STEPS = 16
_BINS = math.ceil(math.log2(_MOST_S / _LEAST_S) * _STEPS) + 2


class Timings:
    """A count of times in steps of 4.4 % from a microsecond up (16 to a doubling), so that a quantile is that sure.

    ``limit_s`` is the time in seconds beyond which one is counted in ``over`` as well, ``count`` how many there are,
    ``most_s`` the longest, exactly. Adding takes no memory and about a microsecond; one thread may add while another
    asks.
    """

    #: What a quantile may be off by, as a ratio.
    STEP = 2.0 ** (1.0 / _STEPS)

    def __init__(self, limit_s: float) -> None:
        self.limit_s = limit_s
        self.count = 0
        self.over = 0
        self.most_s = 0.0
        self._bins = array("q", bytes(8 * _BINS))

    def add(self, seconds: float) -> None:
        """Count one time; below a microsecond, and below 0, it counts as the shortest."""
        place = 0 if seconds <= _LEAST_S else min(1 + int(math.log2(seconds / _LEAST_S) * _STEPS), _BINS - 1)
        self._bins[place] += 1
        self.count += 1
        self.over += seconds > self.limit_s
        self.most_s = max(self.most_s, seconds)

    def quantile(self, part: float) -> float:
        """The time in seconds that a share ``part`` of all, 0..1, does not exceed; 0 when there are none.

        It is the upper edge of the step that holds it, and never more than the longest.
        """
        wanted = part * self.count
        passed = 0
        for place, many in enumerate(self._bins):
            passed += many
            if many and passed >= wanted:
                return min(_LEAST_S * math.exp2(place / _STEPS), self.most_s)
        return self.most_s
