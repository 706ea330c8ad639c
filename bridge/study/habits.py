"""What harmonica players usually do, as odds: which harps, positions, holes, bends and scale degrees.

All of it is common practice of the trade, no source: rough odds, good enough to weigh two explanations of one phrase.
Only their ratios count.
"""

from __future__ import annotations

from collections.abc import Mapping

from bridge.harp.bends import Sound

#: How often a harp of that key is in the hand. Low and high ones are rarer still than this, but were their odds worse,
#: the wrong octave would be called sure of phrases that fit both.
_KEYS: Mapping[str, float] = {"C": 1.0, "A": 1.0, "D": 1.0, "G": 1.0, "Bb": 0.8, "F": 0.8, "E": 0.7, "Eb": 0.6}
_OTHER_PLAIN, _OUTSIDE = 0.5, 0.3
#: Position 1 to 12: second before first before third, the others seldom.
POSITIONS = (0.28, 0.54, 0.15, 0.005, 0.005, 0.001, 0.001, 0.001, 0.001, 0.001, 0.002, 0.013)
#: How often a hole sounds, hole 1 first, while a phrase stays in a register; a longer harp goes on like the last.
REGISTERS: Mapping[str, tuple[float, ...]] = {
    "low": (0.8, 1.2, 1.2, 1.2, 0.7, 0.5, 0.1, 0.03, 0.02, 0.02),
    "middle": (0.05, 0.15, 0.5, 1.0, 1.0, 1.0, 0.7, 0.4, 0.1, 0.05),
    "high": (0.02, 0.02, 0.05, 0.3, 0.5, 0.9, 1.0, 1.0, 1.0, 0.7),
    "whole": (0.7, 1.0, 1.0, 1.0, 1.0, 1.0, 0.8, 0.7, 0.6, 0.4),
}
#: How often a phrase stays in each of them in first, second, third and any other position.
_REGISTERS_IN = ((0.25, 0.35, 0.2, 0.2), (0.55, 0.15, 0.08, 0.22), (0.15, 0.45, 0.15, 0.25), (0.25, 0.25, 0.25, 0.25))
#: How often a bend stops at one certain depth, beside the straight note of its hole; blow and overbends are rarer.
_DRAW_BEND, _BLOW_BEND, _OVERBEND = 0.3, 0.15, 0.02
#: Weight of each semitone above the root in a melody: root and fifth, both thirds, fourth and flat seventh.
DEGREES = (1.0, 0.06, 0.35, 0.6, 0.65, 0.5, 0.2, 0.9, 0.08, 0.35, 0.55, 0.15)
#: The same for the note before a rest, and for the one that all ends on.
REST_DEGREES = (1.0, 0.02, 0.1, 0.2, 0.25, 0.15, 0.05, 0.4, 0.02, 0.1, 0.15, 0.02)
LAST_DEGREES = (1.0, 0.005, 0.02, 0.06, 0.08, 0.03, 0.01, 0.15, 0.005, 0.015, 0.03, 0.005)


def key_odds(key: str) -> float:
    """Odds of a harp in ``key``; those outside the usual octave (``low-``, ``high-``) are rare."""
    return _OUTSIDE if "-" in key else _KEYS.get(key, _OTHER_PLAIN)


def register_odds(position: int) -> tuple[float, ...]:
    """Odds of each of ``REGISTERS``, in their order, in ``position`` (1..12)."""
    return _REGISTERS_IN[min(position, len(_REGISTERS_IN)) - 1]


def sound_odds(sound: Sound, register: str) -> float:
    """Odds that a player makes this note of the harp in one of ``REGISTERS``, whatever the key and position."""
    holes = REGISTERS[register]
    hole = holes[min(sound.hole, len(holes)) - 1]
    if sound.kind == "straight":
        return hole
    if sound.kind == "bend":
        return hole * (_DRAW_BEND if sound.air == "draw" else _BLOW_BEND)
    return hole * _OVERBEND
