"""How far long work is."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

#: Told the part of the work that is done, 0..1.
Progress: TypeAlias = Callable[[float], None]


def nobody(_done: float) -> None:
    """Nobody wants to know."""


def share(progress: Progress, begin: float, end: float) -> Progress:
    """What is told the part done of one piece of the work, which lies between two parts of the whole, 0..1."""
    return lambda done: progress(begin + done * (end - begin))
