"""Made-up phrases on a ten-hole harp in any key, in first, second and third position, another for every seed.

A seed chooses riffs, leaves notes out and plays some twice, gives them rhythm and rests, aims every note a little off,
and ends on the root or, more rarely, on the fifth.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from bridge.base.units import midi_to_hz
from bridge.capture.player import PlayedNote, perform
from bridge.capture.reed_tone import ReedVoice
from sounds.known import Bend, KnownSound
from sounds.rehearsed import RATE, from_performance
from sounds.riffs import RIFFS
from sounds.sampled import play_score
from sounds.scores import BLOW, DRAW, HELD, KEYS, Score, ScoreNote

#: Semitones from a C harp of every harp key, the low ones included.
ALL_KEYS = {**{f"low-{key}": KEYS[key] - 12 for key in ("C", "Db", "D", "Eb", "E", "F", "F#")}, **KEYS}
_LENGTHS_S, _GAPS_S, _RESTS_S = (0.14, 0.2, 0.28, 0.4, 0.6), (0.04, 0.04, 0.08), (0.0, 0.3, 0.5)
#: Harps are mostly sold between 440 and 444 Hz (common practice, no source).
_A4_HZ = (440.0, 442.0, 444.0, 438.0, 441.0)
#: How often a note is left out, a riff is played twice, and a phrase ends on its root.
_LEFT_OUT, _PLAYED_TWICE, _ON_THE_ROOT = 0.08, 0.2, 0.85
#: How far notes lie from where they are aimed, one standard deviation in cents.
_AIM_CENTS, _BEND_AIM_CENTS = 4.0, 14.0


@dataclass(frozen=True)
class Phrase:
    """A phrase with what a listener should find: the harp, the position, and A4 in Hz."""

    score: Score
    key: str
    position: int
    register: str
    a4_hz: float

    @property
    def name(self) -> str:
        """What was played, for messages."""
        return f"phrase on {self.key}, position {self.position}, {self.register}, A4 = {self.a4_hz:.1f}"


def make_phrase(
    seed: int, key: str, position: int, register: str = "", *, a4_hz: float = 440.0, riffs: int = 8
) -> Phrase:
    """The phrase of that seed, with A4 at ``a4_hz``.

    It stays in ``register`` or, without one, has a home register and leaves it at times.
    """
    rng = np.random.default_rng([seed, 77])
    registers = [place for number, place in RIFFS if number == position]
    home = register or str(rng.choice(registers))
    places = [home if register else str(rng.choice(registers)) for _ in range(riffs)]
    # Every other riff is at home, so that a phrase that may move does, and comes back.
    places[1::2] = [home] * len(places[1::2])
    start, notes = 0.2, []
    for place in places:
        riff = [note for note in str(rng.choice(RIFFS[position, place].riffs)).split() if rng.random() > _LEFT_OUT]
        for text in riff * (2 if rng.random() < _PLAYED_TWICE else 1):
            notes.append(_played(text, start, float(rng.choice(_LENGTHS_S)), rng))
            start += notes[-1].length_s + float(rng.choice(_GAPS_S))
        start += float(rng.choice(_RESTS_S))
    final = RIFFS[position, home].roots if rng.random() < _ON_THE_ROOT else RIFFS[position, home].fifths
    notes.append(_played(str(rng.choice(final)), start, float(rng.uniform(0.6, 1.2)), rng))
    off = 1200.0 * float(np.log2(a4_hz / 440.0))
    score = tuple(replace(note, midi=note.midi + ALL_KEYS[key], bend=_raised(note.bend, off)) for note in notes)
    return Phrase(score, key, position, home, a4_hz)


def make_phrases(count: int, *, riffs: int = 8, first_seed: int = 0) -> list[Phrase]:
    """Phrases over all keys and positions 1 to 3, a key in another position every time it comes round."""
    names = list(ALL_KEYS)
    return [
        make_phrase(
            first_seed + index,
            names[index % len(names)],
            1 + (index + index // len(names)) % 3,
            a4_hz=_A4_HZ[index % len(_A4_HZ)],
            riffs=riffs,
        )
        for index in range(count)
    ]


def sampled_phrase(phrase: Phrase) -> KnownSound:
    """The phrase on the sampled harmonica; skips the test where that is missing."""
    return play_score(phrase.score, f"sampled {phrase.name}")


def rehearsed_phrase(phrase: Phrase, seed: int = 3) -> KnownSound:
    """The phrase on synthetic reeds, each note with a fundamental of its own."""
    rng = np.random.default_rng([seed, 78])
    notes = [
        PlayedNote(
            note.start_s,
            note.length_s,
            midi_to_hz(note.midi),
            note.bend.points,
            vibrato_hz=note.bend.vibrato_hz if note.bend.vibrato_cents else 0.0,
            vibrato_cents=note.bend.vibrato_cents,
            vibrato_after_s=note.bend.vibrato_from_s,
            voice=ReedVoice(fundamental=float(rng.uniform(0.12, 0.8))),
        )
        for note in phrase.score
    ]
    return from_performance(perform(notes, RATE, seed), f"rehearsed {phrase.name}")


def written(tab: str, key: str) -> Score:
    """A line of tab on a harp in ``key``, every note 0.3 s long and where it was aimed; ``#`` raises a semitone."""
    notes = [_tabbed(text, 0.36 * index, 0.3) for index, text in enumerate(tab.split())]
    return tuple(replace(note, midi=note.midi + ALL_KEYS[key]) for note in notes)


def _tabbed(text: str, start_s: float, length_s: float) -> ScoreNote:
    """One note of tab on a C harp."""
    tab = text.rstrip("'~#")
    hole, drawn = int(tab[:-1]), tab[-1] == "d"
    midi = (DRAW if drawn else BLOW)[hole - 1] - text.count("'") + text.count("#")
    bend = _third(length_s, -80.0, -30.0) if text.endswith("~") else HELD
    return ScoreNote(start_s, length_s, midi, bend, hole, "draw" if drawn else "blow")


def _played(text: str, start_s: float, length_s: float, rng: np.random.Generator) -> ScoreNote:
    """The same as it comes out once."""
    if text.endswith("~"):
        bend = _third(length_s, float(rng.uniform(-95.0, -60.0)), float(rng.uniform(-55.0, 0.0)))
    else:
        aim = float(rng.normal(0.0, _BEND_AIM_CENTS if text.endswith("'") else _AIM_CENTS))
        wide = float(rng.uniform(10.0, 40.0)) if length_s > 0.5 and rng.random() < 0.5 else 0.0
        bend = Bend(((0.0, aim),), wide, 5.5, 0.2)
    return replace(_tabbed(text, start_s, length_s), bend=bend)


def _third(length_s: float, low: float, high: float) -> Bend:
    """A third begun ``low`` and released to ``high``, cents from the straight third."""
    return Bend(((0.3 * length_s, low), (0.7 * length_s, high)))


def _raised(bend: Bend, cents: float) -> Bend:
    return replace(bend, points=tuple((at, value + cents) for at, value in bend.points))
