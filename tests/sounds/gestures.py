"""Gestures of hands, throat and tongue: flutter, throat vibrato, warbles, scoops, and slaps that are no notes.

Hands that close over the harp take its level down and its high partials more (common practice, no source): a low-pass
of second order whose corner swings between 8 and 1.2 kHz. It is applied as a mixture of fixed ones, each without delay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bridge.capture.player import Performance, PlayedNote, perform
from bridge.capture.reed_tone import ReedVoice
from sounds.known import Bend, Floats, KnownSound, TruthNote
from sounds.rehearsed import RATE, from_performance
from sounds.sampled import play_score
from sounds.scores import BLOW, DRAW, KEYS, THIRD, Score, ScoreNote, in_key

FLUTTER_HZ = (4.0, 5.0, 6.0, 7.0)
THROAT_HZ = (4.0, 5.5, 7.0, 8.0)
THROAT_CENTS, THROAT_DB = 50.0, 4.0
#: Pairs of holes on a C harp that are warbled: root and third, two pairs of neighbours, a fourth.
WARBLES = ((DRAW[1], THIRD), (DRAW[3], DRAW[4]), (DRAW[5], DRAW[6]), (BLOW[2], BLOW[3]))
SCOOP_S = (0.06, 0.12, 0.25)
SCOOP_CENTS = 200.0
_OPEN_HZ, _CLOSED_HZ, _CORNERS = 8000.0, 1200.0, 14
_HELD = (DRAW[0], THIRD, BLOW[3], BLOW[5], DRAW[1], DRAW[3], BLOW[7], DRAW[6])
_HELD_S, _APART_S, _LEAD_S = 1.0, 0.25, 0.3
#: Half of the time in which one reed hands over to the next.
_CROSSING_S = 0.006
_SLAP_KINDS = 4


def held(key: str, voice: str) -> KnownSound:
    """Eight held notes all over a harp, ``voice`` "sampled" or "rehearsed"."""
    return _play(_held_score(), key, f"held, {key}", voice)


def throat(key: str, voice: str) -> KnownSound:
    """The same with throat vibrato: pitch 50 cents to either side, level 4 dB in all, 4 to 8 Hz."""
    notes = [
        replace(note, bend=Bend(vibrato_cents=THROAT_CENTS, vibrato_hz=THROAT_HZ[i % len(THROAT_HZ)]))
        for i, note in enumerate(_held_score())
    ]
    sound = _play(tuple(notes), key, f"throat vibrato, {key}", voice)
    return sound.altered("level too", _with_gain(sound, _swing(sound, THROAT_HZ) * THROAT_DB))


def fluttered(sound: KnownSound, depth_db: float, *, spectrum: bool) -> KnownSound:
    """The sound behind fluttering hands, each note at another of ``FLUTTER_HZ``, ``depth_db`` from open to closed.

    With ``spectrum`` the closed hands also take the high partials, within the same depth.
    """
    closed = _swing(sound, FLUTTER_HZ)
    how = f"flutter of {depth_db:g} dB{' and spectrum' if spectrum else ''}"
    if not spectrum:
        return sound.altered(how, _with_gain(sound, closed * depth_db))
    filtered, corners = np.zeros(len(sound.samples)), np.geomspace(_OPEN_HZ, _CLOSED_HZ, _CORNERS)
    place = closed * (_CORNERS - 1)
    for index, corner_hz in enumerate(corners.tolist()):
        filtered += np.maximum(0.0, 1.0 - np.abs(place - index)) * low_passed(sound.samples, sound.rate, corner_hz)
    darkest, lightest = (low_passed(sound.samples, sound.rate, hz) for hz in (_CLOSED_HZ, _OPEN_HZ))
    lost = np.zeros(len(filtered))
    for note in sound.notes:
        inside = slice(round(note.start_s * sound.rate), round(note.silent_s * sound.rate))
        lost[inside] = 10.0 * np.log10(np.mean(lightest[inside] ** 2) / np.mean(darkest[inside] ** 2))
    made = filtered * 10.0 ** (-closed * (depth_db - lost) / 20.0)
    return sound.altered(how, made.astype(np.float32))


def low_passed(samples: NDArray[np.float32], rate: int, corner_hz: float) -> Floats:
    """A low-pass of 12 dB an octave without delay; shape as ``samples``."""
    size = 1 << (len(samples) - 1).bit_length()
    hz = np.fft.rfftfreq(size, 1.0 / rate)
    spectrum = np.fft.rfft(samples, size) / np.sqrt(1.0 + (hz / corner_hz) ** 4)
    return np.asarray(np.fft.irfft(spectrum, size)[: len(samples)])


def warble(key: str, pair: tuple[int, int], changes_hz: float, voice: str, count: int = 24) -> KnownSound:
    """Two holes (MIDI on a C harp) in turn ``changes_hz`` times a second, without a gap between them."""
    period = 1.0 / changes_hz
    score = tuple(ScoreNote(_LEAD_S + i * period, period, pair[i % 2]) for i in range(count))
    name = f"warble {pair[0]}/{pair[1]} at {changes_hz:g}, {key}"
    if voice == "sampled":
        return play_score(in_key(score, key), f"sampled {name}")
    # One mouth that slides from hole to hole: for some ms both reeds have air.
    semitones = KEYS[key]
    played = [
        PlayedNote(
            note.start_s - _CROSSING_S,
            note.length_s + 2.0 * _CROSSING_S,
            440.0 * 2.0 ** ((note.midi + semitones - 69) / 12.0),
            attack_s=2.0 * _CROSSING_S,
            release_s=2.0 * _CROSSING_S,
            voice=ReedVoice(fundamental=0.4 + 0.3 * (i % 2)),
        )
        for i, note in enumerate(score)
    ]
    return _in_turn(played, name)


def scoop(key: str, over_s: float, voice: str) -> KnownSound:
    """One third begun 200 cents low and reached after ``over_s``, held for 0.8 s in all."""
    note = ScoreNote(_LEAD_S, 0.8, THIRD, Bend(((0.0, -SCOOP_CENTS), (over_s, 0.0))), 3, "draw")
    return _play((note,), key, f"scoop of {1000.0 * over_s:.0f} ms, {key}", voice)


def slapped(sound: KnownSound, every_s: float, peak_db: float, seed: int = 0) -> KnownSound:
    """Slaps and key clicks over the sound, one each ``every_s`` from its beginning on, peaks at ``peak_db`` dBFS.

    Of four kinds in turn: a hand on the harp (dull noise of 25 ms), a tongue (noise of 8 ms), a key or button (three
    high modes that ring 4 ms), covers that knock (three low modes that ring 12 ms). Decays are from memory.
    """
    rng = np.random.default_rng([seed, 404])
    made = sound.samples.astype(np.float64)
    for index, start in enumerate(range(0, len(made) - sound.rate // 4, round(every_s * sound.rate))):
        knock = _knock(index % _SLAP_KINDS, sound.rate, rng)
        knock *= 10.0 ** (peak_db / 20.0) / np.max(np.abs(knock))
        made[start : start + len(knock)] += knock
    return sound.altered("slaps", np.clip(made, -1.0, 1.0).astype(np.float32))


def _knock(kind: int, rate: int, rng: np.random.Generator) -> Floats:
    """A short sound without pitch, 120 ms."""
    seconds = np.arange(round(0.12 * rate)) / rate
    if kind in (0, 1):
        noise = rng.standard_normal(len(seconds)).astype(np.float32)
        corner_hz, decay_s = ((900.0, 0.025), (5000.0, 0.008))[kind]
        return low_passed(noise, rate, corner_hz) * np.exp(-seconds / decay_s)
    decay_s, low_hz, high_hz = ((0.004, 1500.0, 5000.0), (0.012, 250.0, 900.0))[kind - 2]
    modes = rng.uniform(low_hz, high_hz, 3)
    return np.asarray(np.sum([np.sin(2.0 * np.pi * hz * seconds) for hz in modes], axis=0) * np.exp(-seconds / decay_s))


def _held_score() -> Score:
    return tuple(ScoreNote(_LEAD_S + i * (_HELD_S + _APART_S), _HELD_S, midi) for i, midi in enumerate(_HELD))


def _play(score: Score, key: str, name: str, voice: str) -> KnownSound:
    """The score by one of the two voices."""
    if voice == "sampled":
        return play_score(in_key(score, key), f"sampled {name}")
    notes = [_played(note, key, index) for index, note in enumerate(score)]
    return from_performance(perform(notes, RATE, 7), f"rehearsed {name}")


def _played(note: ScoreNote, key: str, index: int) -> PlayedNote:
    """A note of the score on a synthetic reed, every third with a weak fundamental."""
    return PlayedNote(
        note.start_s,
        note.length_s,
        440.0 * 2.0 ** ((note.midi + KEYS[key] - 69) / 12.0),
        () if note.bend.held else note.bend.points,
        vibrato_hz=note.bend.vibrato_hz if note.bend.vibrato_cents else 0.0,
        vibrato_cents=note.bend.vibrato_cents,
        voice=ReedVoice(fundamental=(0.7, 0.4, 0.12)[index % 3]),
    )


def _in_turn(notes: Sequence[PlayedNote], name: str) -> KnownSound:
    """Notes that overlap, as the sum of two players in turn; the pitch is that of the louder, unscored in between."""
    length_s = notes[-1].end_s + 0.5
    players = [perform(notes[first::2], RATE, 7 + first, length_s=length_s) for first in (0, 1)]
    sounds = [from_performance(player, name) for player in players]
    louder = players[1].level_db > players[0].level_db
    step = round(RATE / 1000)
    both = Performance(
        RATE,
        players[0].samples + players[1].samples,
        np.where(louder, players[1].f0_hz, players[0].f0_hz),
        np.maximum(players[0].level_db, players[1].level_db),
        tuple(notes),
    )
    truth = sorted((note for sound in sounds for note in sound.notes), key=_start)
    times, hz = sounds[0].times_s, both.f0_hz[::step]
    alone = np.minimum(players[0].level_db, players[1].level_db)[::step] < both.level_db[::step] - 20.0
    return KnownSound(name, RATE, both.samples, tuple(truth), times, hz, alone)


def _start(note: TruthNote) -> float:
    return note.start_s


def _swing(sound: KnownSound, rates_hz: Sequence[float]) -> Floats:
    """How far closed the hands are at each sample, 0..1, beginning open with each note."""
    closed = np.zeros(len(sound.samples))
    for index, note in enumerate(sound.notes):
        inside = slice(round(note.start_s * sound.rate), round(note.silent_s * sound.rate))
        since = np.arange(len(closed[inside])) / sound.rate
        closed[inside] = 0.5 - 0.5 * np.cos(2.0 * np.pi * rates_hz[index % len(rates_hz)] * since)
    return closed


def _with_gain(sound: KnownSound, down_db: Floats) -> NDArray[np.float32]:
    return np.asarray(sound.samples * 10.0 ** (-down_db / 20.0), dtype=np.float32)
