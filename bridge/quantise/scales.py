"""Scales: the ones that come with the program, and the user's own from plain mappings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from bridge.base.errors import UserError
from bridge.base.units import CENTS_PER_OCTAVE
from bridge.quantise.slots import Scale, Slot

#: Degrees as they are spelled; each sits on its semitone above the root.
DEGREES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
#: How far past a border a pitch stays in its slot where the scale does not say, cents.
_STAY_MARGIN = 10.0

_BUILT_IN: Mapping[str, object] = {
    # The third is one slot, from below minor to above major: what moves in there is inflection, not another note.
    "blues": ["1", "b2", "2", {"degree": "3", "reach": [265, 430], "stay": [225, 440]}, *DEGREES[5:]],
    "major": "1 2 3 4 5 6 7",
    "mixolydian": "1 2 3 4 5 6 b7",
    "minor-pentatonic": "1 b3 4 5 b7",
    "chromatic": " ".join(DEGREES),
}


@dataclass(frozen=True, slots=True)
class _Wish:
    """A degree as the scale asks for it; ``reach`` and ``stay`` are None where it does not say."""

    degree: str
    anchor: float
    reach: tuple[float, float] | None
    stay: tuple[float, float] | None


def find_scale(name: str, user_scales: Mapping[str, object]) -> Scale:
    """The scale of that name, the user's own or one that comes with the program.

    Raises UserError listing the names there are, or saying what is wrong in the user's scale.
    """
    if name in user_scales:
        return read_scale(name, user_scales[name])
    if name not in _BUILT_IN:
        raise UserError(f"There is no scale {name!r}. Scales: {', '.join([*_BUILT_IN, *user_scales])}.")
    return _build(name, _BUILT_IN[name])


def read_scale(name: str, plain: object) -> Scale:
    """The user's scale ``name`` from a plain value.

    ``plain`` is a line of degrees (``"1 b3 4 5 b7"``) or a list whose items are degrees or mappings with ``degree``
    and, where wanted, ``reach`` and ``stay``, each ``[low, high]`` in cents above the root. Slots without a reach
    share what is left, half way between the anchors. Raises UserError that names the degree and what is wrong.
    """
    if name in _BUILT_IN:
        raise UserError(f"Scale {name!r} comes with the program. Give your own scale another name.")
    return _build(name, plain)


def _build(name: str, plain: object) -> Scale:
    items = plain.split() if isinstance(plain, str) else plain
    if not isinstance(items, list | tuple) or not items:
        raise UserError(f"Scale {name!r}: give a list of degrees, such as 1 b3 4 5 b7, not {plain!r}.")
    wishes = sorted((_wish(name, item) for item in items), key=lambda wish: wish.anchor)
    for lower, upper in pairwise(wishes):
        if lower.degree == upper.degree:
            raise UserError(f"Scale {name!r}: degree {lower.degree} is there twice. Leave one out.")
    count = len(wishes)
    borders = [_border(name, wishes[index - 1], wishes[index], wraps=index == 0) for index in range(count)]
    borders.append(borders[0] + CENTS_PER_OCTAVE)
    return Scale(name, tuple(_slot(wishes, borders, index) for index in range(count)))


def _wish(name: str, item: object) -> _Wish:
    plain: Mapping[object, object] = item if isinstance(item, Mapping) else {"degree": item}
    degree = str(plain.get("degree"))
    if degree not in DEGREES:
        raise UserError(f"Scale {name!r}: found {item!r}. Each item names its degree, one of {' '.join(DEGREES)}.")
    unknown = [repr(key) for key in plain if key not in {"degree", "reach", "stay"}]
    if unknown:
        raise UserError(f"Scale {name!r}, degree {degree}: {', '.join(unknown)} is not known; use reach and stay.")
    anchor = 100.0 * DEGREES.index(degree)
    reach, stay = (_span(name, degree, anchor, key, plain.get(key)) for key in ("reach", "stay"))
    if reach and stay and not stay[0] <= reach[0] < reach[1] <= stay[1]:
        raise UserError(f"Scale {name!r}, degree {degree}: stay must hold all of reach; widen stay.")
    return _Wish(degree, anchor, reach, stay)


def _span(name: str, degree: str, anchor: float, key: str, value: object) -> tuple[float, float] | None:
    if value is None:
        return None
    pair = tuple(value) if isinstance(value, list | tuple) else ()
    if len(pair) == 2 and all(isinstance(edge, int | float) and not isinstance(edge, bool) for edge in pair):
        low, high = float(pair[0]), float(pair[1])
        if anchor - CENTS_PER_OCTAVE < low <= anchor < high < anchor + CENTS_PER_OCTAVE:
            return low, high
    raise UserError(
        f"Scale {name!r}, degree {degree}: {key} must be [low, high] in cents above the root, "
        f"with {anchor:g} between them and less than an octave on either side, not {value!r}."
    )


def _border(name: str, lower: _Wish, upper: _Wish, *, wraps: bool) -> float:
    """Cents where ``lower`` gives way to ``upper``; ``wraps`` when ``lower`` is the octave below's last slot."""
    shift = CENTS_PER_OCTAVE if wraps else 0.0
    top = lower.reach[1] - shift if lower.reach else None
    bottom = upper.reach[0] if upper.reach else None
    if top is not None and bottom is not None:
        if top > bottom:
            raise UserError(
                f"Scale {name!r}: the reaches of {lower.degree} and {upper.degree} overlap by {top - bottom:g} cents. "
                "Let one end where the other begins."
            )
        return (top + bottom) / 2.0
    below, above = lower.anchor - shift, upper.anchor
    border = top if top is not None else bottom if bottom is not None else (below + above) / 2.0
    if not below < border <= above:
        raise UserError(
            f"Scale {name!r}: the reach of {lower.degree if top is not None else upper.degree} swallows "
            f"the anchor of {upper.degree if top is not None else lower.degree}. Make it narrower."
        )
    return border


def _slot(wishes: list[_Wish], borders: list[float], index: int) -> Slot:
    wish, low, high = wishes[index], borders[index], borders[index + 1]
    if wish.stay:
        stay_low, stay_high = min(wish.stay[0], low), max(wish.stay[1], high)
    else:
        # Against a neighbour that says how long it holds, the border needs no second margin.
        below, above = wishes[index - 1], wishes[(index + 1) % len(wishes)]
        stay_low = low if below.stay else low - _STAY_MARGIN
        stay_high = high if above.stay else high + _STAY_MARGIN
    return Slot(wish.degree, wish.anchor, low, high, stay_low, stay_high)
