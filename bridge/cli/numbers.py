"""Numbers that options take: refused in the same words as a setting that is out of its range."""

from __future__ import annotations

from collections.abc import Callable

from bridge.base.errors import UserError


def number(option: str, low: float, high: float, what: str) -> Callable[[str | float], float]:
    """What reads a number from ``low`` to ``high``; raises UserError naming ``option`` and ``what`` it is."""

    def read(typed: str | float) -> float:
        try:
            value = float(typed)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise UserError(f"{option}: found {str(typed)!r}, allowed: a number from {low:g} to {high:g} ({what})")
        return value

    return read
