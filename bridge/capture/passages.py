"""What a player practises, one named passage for each difficulty, as notes for the synthetic player.

Every passage starts at 0 s and is described over the root alone, so that it fits any harp and position: the harp comes
in as plain frequencies. What the passages hold is common practice of the trade; rates and depths of vibrato and of
repeats lie in the ranges measured on voice, strings and winds (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bridge.base.units import cents_between, hz_above
from bridge.capture.player import Breath, PlayedNote, shift
from bridge.capture.reed_tone import ReedVoice

FOURTH = 500.0
FIFTH = 700.0
_PAUSE_S = 0.4
_WEAK = ReedVoice(fundamental=0.12, breath_db=-36.0)


@dataclass(frozen=True, slots=True)
class Tuning:
    """The frequencies that a score needs: the root, every reed (Hz), and the player's third over the root (cents)."""

    root_hz: float
    reeds_hz: tuple[float, ...]
    straight_cents: float = 400.0
    minor_cents: float = 300.0

    def hz(self, cents: float) -> float:
        """Frequency of the cents above the root, taken to the octave that the harp has."""
        low, high = (cents_between(edge, self.root_hz) for edge in (min(self.reeds_hz), max(self.reeds_hz)))
        while cents < low - 50.0 and cents + 1200.0 <= high + 50.0:
            cents += 1200.0
        while cents > high + 50.0 and cents - 1200.0 >= low - 50.0:
            cents -= 1200.0
        return hz_above(self.root_hz, cents)

    def third_hz(self) -> float:
        """Frequency of the player's straight third."""
        return self.hz(self.straight_cents)

    def flattened(self, depth: float) -> float:
        """Cents from the straight third at that depth: 0 at depth 0, down to the minor third at depth 1."""
        return depth * (self.minor_cents - self.straight_cents)


@dataclass(frozen=True, slots=True)
class Passage:
    """Notes and breaths from 0 s on; ``length_s`` includes the rest at the end."""

    name: str
    parts: tuple[PlayedNote | Breath, ...]
    length_s: float


def join(name: str, passages: Iterable[Passage]) -> Passage:
    """The passages one after another as one."""
    parts: list[PlayedNote | Breath] = []
    length_s = 0.0
    for passage in passages:
        parts += (shift(part, length_s) for part in passage.parts)
        length_s += passage.length_s
    return Passage(name, tuple(parts), length_s)


def passages(tuning: Tuning) -> dict[str, Passage]:
    """Every passage by its name, in the order of rising difficulty."""
    made = (
        _passage("straight third", [PlayedNote(0.2, 1.2, tuning.third_hz())]),
        _released_thirds(tuning),
        _scoops(tuning),
        _vibrato(tuning),
        _repeats("tongued repeats 40 ms", tuning, 0.040),
        _repeats("tongued repeats 20 ms", tuning, 0.020),
        _growing_bend(tuning),
        _fast_bends(tuning),
        _flutter(tuning),
        _alternation(tuning),
        _weak_fundamental(tuning),
        _whole_range(tuning.reeds_hz),
        _passage("silence and breath", [Breath(0.5, 0.8, -55.0), Breath(1.6, 0.6, -45.0)]),
    )
    return {passage.name: passage for passage in made}


def _passage(name: str, parts: Sequence[PlayedNote | Breath]) -> Passage:
    """A passage with a rest after its last note."""
    return Passage(name, tuple(parts), max(part.end_s for part in parts) + _PAUSE_S)


def _released_thirds(tuning: Tuning) -> Passage:
    """Thirds begun near the minor and released upwards while they sound, in half a second and in an eighth."""
    parts = []
    for start_s, depth, release_s in ((0.2, 1.0, 0.5), (1.8, 0.9, 0.25), (3.4, 0.7, 0.125)):
        glide = ((0.25, tuning.flattened(depth)), (0.25 + release_s, 0.0))
        parts.append(PlayedNote(start_s, 1.3, tuning.third_hz(), glide))
    return _passage("released third", parts)


def _scoops(tuning: Tuning) -> Passage:
    """Root, third, fourth and fifth, each from 200 cents below."""
    degrees = (0.0, tuning.straight_cents, FOURTH, FIFTH)
    return _passage(
        "scoops",
        [
            PlayedNote(0.2 + 0.8 * index, 0.6, tuning.hz(cents), ((0.0, -200.0), (0.08 + 0.03 * index, 0.0)))
            for index, cents in enumerate(degrees)
        ],
    )


def _vibrato(tuning: Tuning) -> Passage:
    """Four long thirds with vibrato of 4 to 8 Hz and 10 to 60 cents."""
    kinds = ((4.0, 10.0), (5.0, 30.0), (6.0, 50.0), (8.0, 60.0))
    return _passage(
        "vibrato",
        [
            PlayedNote(
                0.2 + 1.6 * index, 1.4, tuning.third_hz(), vibrato_hz=hz, vibrato_cents=cents, vibrato_after_s=0.2
            )
            for index, (hz, cents) in enumerate(kinds)
        ],
    )


def _repeats(name: str, tuning: Tuning, gap_s: float) -> Passage:
    """Ten thirds at the same pitch, ten a second, with silences of ``gap_s`` between them."""
    return _passage(
        name,
        [
            PlayedNote(0.2 + 0.1 * index, 0.1 - gap_s, tuning.third_hz(), attack_s=0.010, release_s=0.008)
            for index in range(10)
        ],
    )


def _growing_bend(tuning: Tuning) -> Passage:
    """The third tongued again and again while the bend is added little by little."""
    return _passage(
        "tongued third with growing bend",
        [
            PlayedNote(0.2 + 0.2 * index, 0.15, tuning.third_hz(), ((0.0, tuning.flattened(index / 7.0)),))
            for index in range(8)
        ],
    )


def _fast_bends(tuning: Tuning) -> Passage:
    """Three semitones down and up again, each in 60 ms."""
    bend = ((0.25, 0.0), (0.31, -300.0), (0.56, -300.0), (0.62, 0.0))
    return _passage("fast bends", [PlayedNote(0.2 + 1.2 * index, 0.9, tuning.third_hz(), bend) for index in range(2)])


def _flutter(tuning: Tuning) -> Passage:
    """Hands that take the level down smoothly, 4 to 7 times a second, 6 to 10 dB."""
    kinds = ((4.0, 6.0), (5.5, 8.0), (7.0, 10.0))
    return _passage(
        "hand flutter",
        [
            PlayedNote(0.2 + 1.6 * index, 1.4, tuning.hz(FOURTH), flutter_hz=hz, flutter_db=db)
            for index, (hz, db) in enumerate(kinds)
        ],
    )


def _alternation(tuning: Tuning) -> Passage:
    """Root and third in turn without a silence, eight a second: two holes, so two notes each time."""
    return _passage(
        "alternation",
        [
            PlayedNote(0.2 + 0.125 * index, 0.125, tuning.hz(tuning.straight_cents * (index % 2)), attack_s=0.010)
            for index in range(12)
        ],
    )


def _weak_fundamental(tuning: Tuning) -> Passage:
    """Root, third and fifth with a fundamental 18 dB under the second harmonic, and more breath."""
    degrees = (0.0, tuning.straight_cents, FIFTH)
    return _passage(
        "weak fundamental",
        [PlayedNote(0.2 + 0.8 * index, 0.6, tuning.hz(cents), voice=_WEAK) for index, cents in enumerate(degrees)],
    )


def _whole_range(reeds_hz: Sequence[float]) -> Passage:
    """Every reed from the lowest to the highest."""
    return _passage(
        "whole range",
        [
            PlayedNote(0.2 + 0.25 * index, 0.2, hz, voice=ReedVoice(fundamental=0.3 + 0.1 * (index % 7)))
            for index, hz in enumerate(sorted(set(reeds_hz)))
        ],
    )
