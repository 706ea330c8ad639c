"""Rows of what must not be taken for the harp, or breaks its notes: the modules that measure them, joined."""

from __future__ import annotations

from collections.abc import Callable

from bench import bleed, bright, doubles, gestures, octaves, talk, talk_after
from bench.special import Numbers
from bench.wanted import Target

#: Each has ``ROWS`` and ``TARGETS``; a module is added by its name alone.
MODULES = (
    talk,
    talk_after,
    gestures,
    doubles,
    octaves,
    bleed,
    bright,
)
ROWS: dict[str, Callable[[], Numbers]] = {name: row for module in MODULES for name, row in module.ROWS.items()}
TARGETS: tuple[Target, ...] = tuple(target for module in MODULES for target in module.TARGETS)
