"""How well every harp, in every position and at every pitch of its A4, explains the pitches of a phrase.

Each pitch is a straight reed, a bend somewhere on its way between two reeds, an overbend, or a stray. What players
usually do (``habits``) weighs them: a note of the scale over the root is likelier than one outside it, and a phrase
likes to end on its root.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import MIDI_A4_HZ, cents_between
from bridge.harp.bends import Sound, bends, overbends, straight_notes
from bridge.harp.harp import Harp, make_harp
from bridge.harp.keys import KEYS, Key
from bridge.harp.positions import root_semitones
from bridge.study import habits
from bridge.study.held import Held

_Floats = NDArray[np.float64]
_CENTS_PER_SEMITONE = 100.0
_SEMITONES_PER_OCTAVE = 12
_DEGREES = (habits.DEGREES, habits.REST_DEGREES, habits.LAST_DEGREES)
_POSITIONS = range(1, len(habits.POSITIONS) + 1)
#: A4 against 440 Hz, cents, of the harps that are asked. They reach beyond half a semitone, so that a phrase that lies
#: between two keys is seen to.
ZEROS: _Floats = np.arange(-72.0, 73.0, 4.0)
#: Half of the harps sound as they are sold, a little above 440; the other half as a recording made them. Mean and
#: standard deviation in cents (from memory).
_SOLD, _RECORDED = (5.0, 8.0), (0.0, 25.0)
#: One standard deviation of a note from its place, cents: straight reeds by their temper, the rest by the player's aim.
_STRAIGHT_WIDTH, _BEND_WIDTH, _OVERBEND_WIDTH = 14.0, 30.0, 25.0
#: Part of all notes that are strays, and the cents over which they may lie.
_STRAY, _STRAY_CENTS = 0.02, 4800.0
#: A note of this many seconds counts once, a longer one more, a shorter one less, within limits.
_COUNTS_ONCE_S, _LEAST_COUNT, _MOST_COUNT = 0.3, 0.3, 2.0
#: The player breathes or rests after a note when the next comes this many seconds after its end.
_REST_S = 0.2
#: A pitch that comes back tells less each time: together n of them count as n to this power.
_REPEATS = 0.5
#: Pitches nearer than this, cents, are one that comes back.
_SAME_CENTS = 50.0
#: The notes of one phrase are chosen together, so each tells less than if it stood alone.
_INDEPENDENCE = 0.8


def harp_chances(held: Sequence[Held], model: Harp, keys: Sequence[Key] = KEYS, *, goes_on: bool = False) -> _Floats:
    """The chance of each of ``keys``, zero and position, shape (keys, zeros, positions); they add up to 1.

    ``goes_on`` is whether the playing only rests after the last of ``held``, which then need not be its end.
    """
    places, widths, sounds = _sounds(model)
    melody, resting, last = (_odds(sounds, places, degrees) for degrees in _DEGREES)
    hole1 = np.array([cents_between(make_harp(key.name, 1, MIDI_A4_HZ).hole1_hz, MIDI_A4_HZ) for key in keys])
    shifts = hole1[:, None] + ZEROS
    logs = np.zeros((*shifts.shape, *melody.shape[1:]))
    for index, (note, count) in enumerate(zip(held, _counts(held), strict=True)):
        above = cents_between(note.hz, MIDI_A4_HZ) - shifts
        width = np.hypot(widths, note.spread_cents)
        near = np.exp(-0.5 * ((above[..., None] - places) / width) ** 2) / (width * np.sqrt(2.0 * np.pi))
        rests = index + 1 < len(held) and held[index + 1].start_s - note.start_s - note.length_s > _REST_S
        is_last = index + 1 == len(held)
        odds = last if is_last and not goes_on else resting if rests or is_last else melody
        logs += count * np.log((1.0 - _STRAY) * np.tensordot(near, odds, 1) + _STRAY / _STRAY_CENTS)
    chances = np.exp(logs + _odds_beforehand(keys) - np.max(logs)).sum(axis=-1)
    return np.asarray(chances / np.sum(chances))


def _odds_beforehand(among: Sequence[Key]) -> _Floats:
    """Logarithm of the odds of each key, zero, position and register before a note is heard, that shape."""
    keys = np.log([habits.key_odds(key.name) for key in among])
    zeros = np.log(_bell(*_SOLD) + _bell(*_RECORDED))
    positions = np.log(habits.POSITIONS)
    registers = np.log([habits.register_odds(position) for position in _POSITIONS])
    return np.asarray(keys[:, None, None, None] + zeros[:, None, None] + positions[:, None] + registers)


def _sounds(model: Harp) -> tuple[_Floats, _Floats, list[Sound]]:
    """Every sound of the harp: cents above hole-1 blow, how wide it scatters, and what it is.

    A bend may stop anywhere on its way, so each has a second place half a semitone above.
    """
    straight = [
        (reed.cents, _STRAIGHT_WIDTH, sound)
        for reed, sound in zip(model.reeds, straight_notes(model.layout), strict=True)
    ]
    bent = [
        (_CENTS_PER_SEMITONE * (sound.semitones + half), _BEND_WIDTH, sound)
        for sound in bends(model.layout)
        for half in (0.0, 0.5)
    ]
    over = [(_CENTS_PER_SEMITONE * sound.semitones, _OVERBEND_WIDTH, sound) for sound in overbends(model.layout)]
    places, widths, sounds = zip(*straight, *bent, *over, strict=True)
    return np.array(places), np.array(widths), list(sounds)


def _odds(sounds: Sequence[Sound], places: _Floats, degrees: Sequence[float]) -> _Floats:
    """How likely each sound is, shape (sounds, positions, registers); over the sounds they add up to 1."""
    roots = np.array([root_semitones(position) for position in _POSITIONS])
    above_root = places[:, None] / _CENTS_PER_SEMITONE - roots
    on_degree = np.interp(above_root, np.arange(_SEMITONES_PER_OCTAVE), degrees, period=_SEMITONES_PER_OCTAVE)
    on_hole = np.array([[habits.sound_odds(sound, register) for register in habits.REGISTERS] for sound in sounds])
    odds = on_degree[:, :, None] * on_hole[:, None, :]
    return np.asarray(odds / np.sum(odds, axis=0))


def _counts(held: Sequence[Held]) -> _Floats:
    """How much each note counts by its length and by how often its pitch comes back."""
    cents = np.array([cents_between(note.hz, MIDI_A4_HZ) for note in held])
    lengths = np.array([note.length_s for note in held])
    ordered = np.sort(cents)
    below, above = (np.searchsorted(ordered, cents + off) for off in (-_SAME_CENTS, _SAME_CENTS))
    often = above - below
    counts = np.clip(lengths / _COUNTS_ONCE_S, _LEAST_COUNT, _MOST_COUNT) * often ** (_REPEATS - 1.0)
    return np.asarray(_INDEPENDENCE * counts)


def _bell(mean: float, deviation: float) -> _Floats:
    """Density of each of ``ZEROS`` when they scatter so around ``mean``, cents."""
    return np.asarray(np.exp(-0.5 * ((ZEROS - mean) / deviation) ** 2) / deviation)
