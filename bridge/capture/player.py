"""A synthetic player: notes with their glides, vibrato and articulation -> sound whose f0 is known at every sample.

Conventions: times in seconds from the start of the performance, or from the start of the note where it says so; cents
above the note's own ``hz``; 0 Hz means silent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bridge.base.units import CENTS_PER_OCTAVE, SILENCE_DB
from bridge.capture.reed_tone import ReedVoice, breath_noise, reed_tone

#: Points (seconds from the start of the note, value), joined by raised cosines and held outside.
Curve = tuple[tuple[float, float], ...]

_VIBRATO_GROWS_S = 0.15
_WANDER_STEP_S = 0.12


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """One breath on one reed.

    ``hz`` is the pitch that ``glide`` (cents) moves around; ``vibrato_cents`` is the deviation to either side, from
    ``vibrato_after_s`` into the note on; ``flutter_db`` is how far the hands take the level down; ``swell`` (dB) moves
    the level inside the note; ``wander_cents`` is the slow unsteadiness of breath. Attack and release lie inside the
    length, so that the note is silent outside ``start_s..end_s``.
    """

    start_s: float
    length_s: float
    hz: float
    glide: Curve = ()
    vibrato_hz: float = 0.0
    vibrato_cents: float = 0.0
    vibrato_after_s: float = 0.0
    flutter_hz: float = 0.0
    flutter_db: float = 0.0
    swell: Curve = ()
    level_db: float = -20.0
    attack_s: float = 0.02
    release_s: float = 0.012
    wander_cents: float = 0.0
    voice: ReedVoice = field(default_factory=ReedVoice)

    @property
    def end_s(self) -> float:
        """When the note has gone silent."""
        return self.start_s + self.length_s


@dataclass(frozen=True, slots=True)
class Breath:
    """Breath through the harp without any reed speaking, RMS ``level_db`` dBFS."""

    start_s: float
    length_s: float
    level_db: float = -50.0

    @property
    def end_s(self) -> float:
        """When the breath has gone silent."""
        return self.start_s + self.length_s


@dataclass(frozen=True, slots=True, eq=False)
class Performance:
    """What was played and what is true of it.

    ``samples`` float32, ``f0_hz`` float64 (the exact derivative of the phase, 0 = silent) and ``level_db`` float32 (the
    intended RMS level of the tone in dBFS, -120 = silent), all of shape (n,); ``notes`` in the order of time.
    """

    rate: int
    samples: NDArray[np.float32]
    f0_hz: NDArray[np.float64]
    level_db: NDArray[np.float32]
    notes: tuple[PlayedNote, ...]

    @property
    def length_s(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate


def perform(
    score: Sequence[PlayedNote | Breath],
    rate: int = 48000,
    seed: int = 0,
    *,
    length_s: float | None = None,
    room_db: float = -80.0,
) -> Performance:
    """Play the score over the noise of a room of ``room_db`` dBFS RMS; the same seed gives the same samples.

    ``length_s`` is at least what is asked for; without it half a second follows the last note. Raises ValueError when
    notes overlap (one harp, one mouth), a pitch lies outside 0..0.45 of the rate, or the sum is louder than full scale.
    """
    ordered = sorted(score, key=lambda part: part.start_s)
    _check(ordered)
    last_s = max((part.end_s for part in ordered), default=0.0)
    count = round(max(last_s, length_s if length_s is not None else last_s + 0.5) * rate)
    total = 10.0 ** (room_db / 20.0) * breath_noise(count, rate, np.random.default_rng([seed, 0]))
    f0_hz = np.zeros(count)
    level_db = np.full(count, SILENCE_DB, np.float32)
    for index, part in enumerate(ordered, start=1):
        here = slice(round(part.start_s * rate), round(part.end_s * rate))
        size = here.stop - here.start
        rng = np.random.default_rng([seed, index])
        if isinstance(part, Breath):
            total[here] += _breath(part, size, rate, rng)
            continue
        f0_hz[here] = _pitch(part, size, rate, rng)
        gain = _gain(part, size, rate)
        total[here] += gain * reed_tone(f0_hz[here], rate, part.voice, part.attack_s, rng)
        level_db[here] = np.maximum(SILENCE_DB, 20.0 * np.log10(np.maximum(gain, 1e-6)))
    if count and float(np.max(np.abs(total))) > 1.0:
        raise ValueError("the performance is louder than full scale; lower level_db")
    notes = tuple(part for part in ordered if isinstance(part, PlayedNote))
    return Performance(rate, total.astype(np.float32), f0_hz, level_db, notes)


def shift(part: PlayedNote | Breath, by_s: float) -> PlayedNote | Breath:
    """The same note or breath, ``by_s`` later."""
    return replace(part, start_s=part.start_s + by_s)


def curve_at(curve: Curve, time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values of a curve at these seconds from the note's start: raised cosines between its points, 0 without any."""
    values = np.full(len(time_s), curve[0][1] if curve else 0.0)
    for (from_s, low), (to_s, high) in pairwise(curve):
        position = np.clip((time_s - from_s) / (to_s - from_s), 0.0, 1.0)
        values += (high - low) * (0.5 - 0.5 * np.cos(np.pi * position))
    return values


def _check(ordered: Sequence[PlayedNote | Breath]) -> None:
    """Refuse what one mouth on one harp cannot do."""
    for part in ordered:
        if part.start_s < 0.0 or part.length_s <= 0.0:
            raise ValueError(f"{part} begins before 0 or has no length")
    for part, after in pairwise(ordered):
        if part.end_s > after.start_s + 1e-9:
            raise ValueError(f"{part} and {after} overlap")


def _pitch(note: PlayedNote, size: int, rate: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """The f0 of every sample of a note in Hz."""
    time_s = np.arange(size) / rate
    cents = curve_at(note.glide, time_s)
    if note.vibrato_cents:
        since_s = np.maximum(0.0, time_s - note.vibrato_after_s)
        grown = np.sin(0.5 * np.pi * np.clip(since_s / _VIBRATO_GROWS_S, 0.0, 1.0)) ** 2
        cents += note.vibrato_cents * grown * np.sin(2.0 * np.pi * note.vibrato_hz * since_s)
    if note.wander_cents:
        steps = int(note.length_s / _WANDER_STEP_S) + 2
        places = tuple((step * _WANDER_STEP_S, float(rng.uniform(-1.0, 1.0))) for step in range(steps))
        cents += note.wander_cents * curve_at(places, time_s)
    f0_hz = note.hz * np.exp2(cents / CENTS_PER_OCTAVE)
    if not 0.0 < float(f0_hz.min()) <= float(f0_hz.max()) < 0.45 * rate:
        raise ValueError(f"{note} leaves the range of 0..{0.45 * rate} Hz")
    return f0_hz


def _gain(note: PlayedNote, size: int, rate: int) -> NDArray[np.float64]:
    """The envelope of a note, linear, in which RMS 1 is full scale."""
    time_s = np.arange(size) / rate
    flutter_db = 0.5 * note.flutter_db * (1.0 - np.cos(2.0 * np.pi * note.flutter_hz * time_s))
    gain = 10.0 ** ((note.level_db + curve_at(note.swell, time_s) - flutter_db) / 20.0)
    return gain * _edges(time_s, note.length_s, note.attack_s, note.release_s)


def _breath(part: Breath, size: int, rate: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Breath that swells and sinks over 50 ms at either end."""
    edges = _edges(np.arange(size) / rate, part.length_s, 0.05, 0.05)
    noise: NDArray[np.float64] = 10.0 ** (part.level_db / 20.0) * edges * breath_noise(size, rate, rng)
    return noise


def _edges(time_s: NDArray[np.float64], length_s: float, attack_s: float, release_s: float) -> NDArray[np.float64]:
    """Gain 0..1 that rises over the attack and falls over the release."""
    rise = np.clip(time_s / attack_s, 0.0, 1.0)
    fall = np.clip((length_s - time_s) / release_s, 0.0, 1.0)
    return np.asarray((np.sin(0.5 * np.pi * rise) * np.sin(0.5 * np.pi * fall)) ** 2)
