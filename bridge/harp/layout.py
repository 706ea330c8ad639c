"""Layouts: which note each hole gives, blown and drawn, as semitones above hole-1 blow."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.base.errors import UserError
from bridge.base.yaml_file import KeyPath

#: How to call the place of a key in an error: ``mine.yaml:3``.
Where = Callable[[KeyPath], str]

_ROWS = ("blow", "draw")
_MOST_HOLES = 16
#: Semitones above hole-1 blow that a note may have: an octave below it to five above.
_LOWEST, _HIGHEST = -12, 60


@dataclass(frozen=True, slots=True)
class Layout:
    """``blow`` and ``draw`` hold one number a hole, hole 1 first: semitones above hole-1 blow."""

    name: str
    blow: tuple[int, ...]
    draw: tuple[int, ...]


#: The ten-hole diatonic: OEIS A291810.
RICHTER = Layout("richter", (0, 4, 7, 12, 16, 19, 24, 28, 31, 36), (2, 7, 11, 14, 17, 21, 23, 26, 29, 33))


def layout_from(name: str, plain: Mapping[str, object], where: Where | None = None) -> Layout:
    """The layout that a plain mapping describes: ``blow`` and ``draw``, each a list of whole semitones, one a hole.

    Hole-1 blow is 0 by definition. ``where`` says how to call the place of a row, the layout's name unless given.
    Raises UserError with that place and what is wrong there.
    """
    place = where or (lambda _key: f"Layout {name!r}")
    if set(plain) != set(_ROWS):
        found = ", ".join(map(repr, plain)) or "nothing"
        odd = next((key for key in plain if key not in _ROWS), None)
        raise UserError(f"{place(() if odd is None else (odd,))}: give the two rows 'blow' and 'draw', not {found}.")
    blow, draw = (_row(place((row,)), row, plain[row]) for row in _ROWS)
    if len(blow) != len(draw):
        raise UserError(f"{place(('draw',))}: {len(blow)} blow and {len(draw)} draw notes; give each hole one of both.")
    if blow[0] != 0:
        raise UserError(f"{place(('blow',))}: blow must begin with 0, since all count from hole-1 blow, not {blow[0]}.")
    return Layout(name, blow, draw)


def _row(place: str, row: str, value: object) -> tuple[int, ...]:
    """One row, checked."""
    notes = tuple(value) if isinstance(value, list | tuple) else ()
    if not notes or not all(type(note) is int for note in notes):
        raise UserError(f"{place}: {row} must be a list of whole semitones above hole-1 blow, not {value!r}.")
    if len(notes) > _MOST_HOLES or not all(_LOWEST <= note <= _HIGHEST for note in notes):
        raise UserError(
            f"{place}: {row} must be at most {_MOST_HOLES} notes from {_LOWEST} to {_HIGHEST} semitones above hole-1 "
            f"blow, not {value!r}."
        )
    return notes
