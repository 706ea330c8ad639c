"""Positions: which note of the harp is taken as the root.

Position n lies n - 1 steps up the circle of fifths from the harp's own key, so its root is 7(n - 1) mod 12
semitones above it (common practice of the trade, no source).
"""

from __future__ import annotations

from bridge.base.errors import UserError

_FIFTH = 7
_SEMITONES_PER_OCTAVE = 12
#: Names of each position, the one that is shown first.
_NAMES = (
    ("first", "straight"),
    ("cross", "second"),
    ("third", "slant"),
    ("fourth",),
    ("fifth",),
    ("sixth",),
    ("seventh",),
    ("eighth",),
    ("ninth",),
    ("tenth",),
    ("eleventh",),
    ("twelfth",),
)
_BY_NAME = {name: number for number, names in enumerate(_NAMES, start=1) for name in names}


def find_position(position: int | str) -> int:
    """The position's number, 1..12, from the number itself (also as text) or one of its names.

    Raises UserError listing what is allowed.
    """
    wanted = str(position).strip().lower()
    number = _BY_NAME.get(wanted) or (int(wanted) if wanted.isdecimal() else 0)
    if not 1 <= number <= len(_NAMES):
        names = ", ".join(name for names in _NAMES for name in names)
        raise UserError(f"There is no position {position!r}. Positions: 1 to {len(_NAMES)}, or {names}.")
    return number


def position_name(number: int) -> str:
    """The name players use for position ``number`` (1..12): ``first``, ``cross``, ``third`` ..."""
    return _NAMES[number - 1][0]


def root_semitones(number: int) -> int:
    """Semitones, 0..11, from the harp's key up to the root of position ``number`` (1..12)."""
    return _FIFTH * (number - 1) % _SEMITONES_PER_OCTAVE
