"""Times of a take as they are typed and shown: seconds, or minutes and seconds."""

from __future__ import annotations

import math
import re

from bridge.base.errors import UserError

_TYPED = re.compile(r"(?:(\d+):(?=[0-5]?\d(?:\.|$)))?(\d+(?:\.\d*)?|\.\d+)")
_SECONDS = 60


def parse_time(words: str, option: str) -> float:
    """The seconds that ``12.5`` or ``1:02.5`` say. Raises UserError naming the ``option`` it was given with."""
    typed = _TYPED.fullmatch(words.strip().replace(",", "."))
    if typed is None:
        raise UserError(
            f"{option}: found {words!r}, allowed: seconds such as 12.5, or minutes and seconds as in 1:02.5."
        )
    minutes, seconds = typed.groups()
    return int(minutes or 0) * _SECONDS + float(seconds)


def clock_time(time_s: float) -> str:
    """A time to the tenth of a second, rounded down: ``1:02.5``."""
    tenths = math.floor(time_s * 10.0 + 1e-6)
    minutes, tenths = divmod(tenths, 10 * _SECONDS)
    return f"{minutes}:{tenths // 10:02}.{tenths % 10}"
