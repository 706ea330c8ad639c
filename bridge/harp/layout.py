"""Layouts: which note each hole gives, blown and drawn, as semitones above hole-1 blow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.base.errors import UserError

_LAYOUTS: Mapping[str, Mapping[str, object]] = {
    # The ten-hole diatonic: OEIS A291810.
    "richter": {
        "blow": (0, 4, 7, 12, 16, 19, 24, 28, 31, 36),
        "draw": (2, 7, 11, 14, 17, 21, 23, 26, 29, 33),
    },
}


@dataclass(frozen=True, slots=True)
class Layout:
    """``blow`` and ``draw`` hold one number a hole, hole 1 first: semitones above hole-1 blow."""

    name: str
    blow: tuple[int, ...]
    draw: tuple[int, ...]


def layout_from(name: str, plain: Mapping[str, object]) -> Layout:
    """The layout that a plain mapping describes: ``blow`` and ``draw``, each a list of whole semitones, one a hole.

    Raises UserError that names the row and what is wrong with it.
    """
    if set(plain) != {"blow", "draw"}:
        raise UserError(f"Layout {name!r}: give the two rows 'blow' and 'draw', not {', '.join(map(repr, plain))}.")
    blow, draw = _row(name, "blow", plain["blow"]), _row(name, "draw", plain["draw"])
    if len(blow) != len(draw):
        raise UserError(f"Layout {name!r}: {len(blow)} blow and {len(draw)} draw notes; give each hole one of both.")
    return Layout(name, blow, draw)


def find_layout(name: str) -> Layout:
    """The layout of that name.

    Raises UserError listing the names there are.
    """
    plain = _LAYOUTS.get(name.strip().lower())
    if plain is None:
        raise UserError(f"There is no layout {name!r}. Layouts: {', '.join(_LAYOUTS)}.")
    return layout_from(name.strip().lower(), plain)


def _row(name: str, row: str, value: object) -> tuple[int, ...]:
    notes = tuple(value) if isinstance(value, list | tuple) else ()
    if not notes or not all(type(note) is int for note in notes):
        raise UserError(f"Layout {name!r}: {row} must be a list of whole semitones above hole-1 blow, not {value!r}.")
    return notes
