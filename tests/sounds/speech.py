"""What a classroom sounds like while nobody plays: recorded speech, singing, claps, clicks, chairs, bursts of noise.

The speech is that of Debian's packages of telephone announcements, 8 kHz: five languages, four women and a man. It is
brought to 48 kHz and to the level of the sampled harmonica, and its long pauses are cut. :func:`full_band` puts back
an upper band that telephones lack, made of the voice's own overtones. Singing is synthesised: glottal pulses that fall
12 dB an octave (of which the lips give back 6) through the formants of five vowels (means of G. E. Peterson and H. L.
Barney, JASA 24 (1952) 175, men; women's lie some 17 % higher), with jitter, shimmer, drift, vibrato and breath (amounts
from memory).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from parts import require
from sounds.dirt import pink_noise
from sounds.known import TRUTH_STEP_S, Floats, KnownSound, TruthNote
from sounds.sampled import RATE, play_score
from sounds.scores import in_key, phrase

#: Language -> folder of its voice.
VOICES = {
    "English": "en_US_f_Allison",
    "Spanish": "es_MX_f_Allison",
    "French": "fr_CA_f_June",
    "Italian": "it_IT_m_Carlo",
    "Russian": "ru_RU_f_IvrvoiceRU",
}
#: RMS of the sampled harmonica while it sounds, dBFS (measured on its phrase).
HARP_DB = -22.0
_PAUSE_S = 0.25
_FRAME_S = 0.01
_VOWELS = ((730, 1090, 2440), (530, 1840, 2480), (270, 2290, 3010), (570, 840, 2410), (300, 870, 2240))
_BANDWIDTHS = (80.0, 90.0, 120.0, 175.0, 250.0)
_HIGHER_FORMANTS = (3500.0, 4500.0)
_WOMAN = 1.17
#: Degrees of a slow tune in semitones above its lowest note.
_TUNE = (0, 2, 4, 5, 4, 2, 7, 5, 4, 2, 0, 4, 7, 9, 7, 5, 4, 2, 0, 0)


def speech(language: str, length_s: float = 60.0, skip_s: float = 0.0) -> KnownSound:
    """``length_s`` of recorded speech without long pauses at the harp's level; KeyError for an unknown language."""
    samples = _recorded(language, skip_s + length_s)[round(skip_s * RATE) :][: round(length_s * RATE)]
    return _without_notes(f"speech, {language}", samples)


def full_band(sound: KnownSound) -> KnownSound:
    """The same voice with a band above 3.5 kHz: what rectifying adds there, falling as voices do."""
    samples = sound.samples.astype(np.float64)
    spectrum = np.fft.rfft(np.abs(samples))
    hz = np.fft.rfftfreq(len(samples), 1.0 / sound.rate)
    spectrum *= np.where(hz > 3500.0, 3500.0 / np.maximum(hz, 1.0), 0.0) * (hz < 12000.0)
    upper = np.fft.irfft(spectrum, len(samples))
    return sound.altered("full band", (samples + upper).astype(np.float32))


def noises(length_s: float = 60.0, seed: int = 1) -> KnownSound:
    """Claps, clicks, chair scrapes and bursts of pink noise, some two a second, at up to the harp's peaks."""
    rng = np.random.default_rng([seed, 4])
    out = np.zeros(round(length_s * RATE))
    pink = pink_noise(RATE * 10, RATE)
    start = 0.3
    kinds = (_clap, _click, _scrape, _burst)
    number = 0
    while start < length_s - 1.0:
        event = kinds[number % len(kinds)](rng, pink)
        level = 10.0 ** (rng.uniform(HARP_DB - 6.0, HARP_DB + 4.0) / 20.0)
        loudest = np.sqrt(np.max(np.convolve(event**2, np.ones(480) / 480, "same")))
        at = round(start * RATE)
        out[at : at + len(event)] += event[: len(out) - at] * level / loudest
        start += float(rng.uniform(0.2, 0.7))
        number += 1
    return _without_notes("claps, clicks, chairs and noise", np.clip(out, -1.0, 1.0))


def sung(length_s: float = 60.0, *, woman: bool = False, vibrato_cents: float = 40.0, seed: int = 1) -> KnownSound:
    """A voice that sings a slow tune on vowels, straight or with vibrato, at the harp's level."""
    rng = np.random.default_rng([seed, 5])
    lowest = 220.0 if woman else 130.8
    parts, number = [np.zeros(RATE // 4)], 0
    while sum(map(len, parts)) < length_s * RATE:
        hz = lowest * 2.0 ** (_TUNE[number % len(_TUNE)] / 12.0)
        formants = np.array(_VOWELS[number % len(_VOWELS)]) * (_WOMAN if woman else 1.0)
        parts += [_sung_note(rng, hz, float(rng.uniform(0.4, 1.2)), formants, vibrato_cents)]
        parts += [np.zeros(round(float(rng.uniform(0.02, 0.2)) * RATE))]
        number += 1
    name = f"sung by a {'woman' if woman else 'man'}, vibrato {vibrato_cents:g} cents"
    return _without_notes(name, _at_harp_level(np.concatenate(parts)[: round(length_s * RATE)]))


def between_phrases(key: str, language: str, times: int = 4, talk_s: float = 5.0) -> KnownSound:
    """A phrase of the sampled harmonica again and again, with ``talk_s`` of speech before each and after the last."""
    played = play_score(in_key(phrase(), key), f"sampled phrase, {key}")
    talk = speech(language, talk_s * (times + 1)).samples.reshape(times + 1, -1)
    pieces, notes, begun = [talk[0]], list[TruthNote](), talk_s
    for turn in talk[1:]:
        pieces += [played.samples, turn]
        notes += [_later(note, begun) for note in played.notes]
        begun += played.length_s + talk_s
    samples = np.concatenate(pieces)
    times_s: Floats = np.arange(int(len(samples) / RATE / TRUTH_STEP_S), dtype=np.float64) * TRUTH_STEP_S
    hz: Floats = np.zeros(len(times_s))
    scored = np.ones(len(times_s), bool)
    for index in range(times):
        first = round((talk_s + index * (played.length_s + talk_s)) / TRUTH_STEP_S)
        hz[first : first + len(played.hz)] = played.hz
        scored[first : first + len(played.hz)] = played.scored
    return KnownSound(
        f"{language} speech between sampled phrases, {key}", RATE, samples, tuple(notes), times_s, hz, scored
    )


def _later(note: TruthNote, by_s: float) -> TruthNote:
    moved = {name: getattr(note, name) + by_s for name in ("start_s", "end_s", "attack_s", "silent_s")}
    return replace(note, **moved)


@cache
def _recorded(language: str, length_s: float) -> NDArray[np.float32]:
    """The longest announcements of a voice one after the other."""
    folder = Path(require("speech")) / VOICES[language]
    files = sorted(folder.glob("[c-v]*.wav"), key=lambda path: (-path.stat().st_size, path.name))
    pieces: list[Floats] = []
    for path in files:
        if path.name.startswith("tt-"):
            continue
        samples, rate = soundfile.read(path, dtype="float64")
        pieces.append(_without_pauses(soxr.resample(samples, rate, RATE)))
        if sum(map(len, pieces)) >= length_s * RATE:
            break
    return np.asarray(_at_harp_level(np.concatenate(pieces)), np.float32)


def _without_pauses(samples: Floats) -> Floats:
    """The samples with every pause cut to a quarter of a second."""
    frame = round(_FRAME_S * RATE)
    whole = samples[: len(samples) // frame * frame].reshape(-1, frame)
    level = np.sqrt(np.mean(whole**2, axis=1))
    quiet = level < 0.03 * np.max(level)
    since = np.zeros(len(quiet), int)
    for index in range(1, len(quiet)):
        since[index] = since[index - 1] + 1 if quiet[index] else 0
    return np.asarray(whole[since * _FRAME_S < _PAUSE_S].ravel())


def _at_harp_level(samples: Floats) -> Floats:
    size = np.abs(samples)
    sounding = samples[size > np.max(size) * 0.01]
    return np.asarray(samples * 10.0 ** (HARP_DB / 20.0) / np.sqrt(np.mean(sounding**2)))


def _without_notes(name: str, samples: NDArray[np.floating]) -> KnownSound:
    times: Floats = np.arange(int(len(samples) / RATE / TRUTH_STEP_S), dtype=np.float64) * TRUTH_STEP_S
    nothing = np.zeros(len(times))
    return KnownSound(name, RATE, np.asarray(samples, np.float32), (), times, nothing, np.ones(len(times), bool))


def _clap(rng: np.random.Generator, pink: Floats) -> Floats:
    """One or a few bursts of noise around 1-2 kHz that die away in some 10 ms each."""
    out = np.zeros(RATE // 4)
    for _ in range(int(rng.integers(1, 4))):
        at, count = int(rng.integers(0, RATE // 50)), RATE // 8
        body = np.convolve(rng.standard_normal(count), _ring(float(rng.uniform(700, 2500)), 0.0015), "same")
        out[at : at + count] += body * np.exp(-np.arange(count) / RATE / float(rng.uniform(0.004, 0.02)))
    return out


def _click(rng: np.random.Generator, pink: Floats) -> Floats:
    """A key, a pen, a switch: a resonance struck once or twice."""
    out = np.zeros(RATE // 5)
    for at in (0, int(rng.integers(RATE // 50, RATE // 10))):
        ring = _ring(float(np.exp(rng.uniform(np.log(300), np.log(5000)))), float(rng.uniform(0.0005, 0.012)))
        out[at : at + len(ring)] += ring[: len(out) - at] * float(rng.uniform(0.3, 1.0))
    return out


def _scrape(rng: np.random.Generator, pink: Floats) -> Floats:
    """A chair leg that sticks and slips some tens of times a second on a floor that resonates."""
    count = round(float(rng.uniform(0.15, 0.6)) * RATE)
    slips = np.cumsum(rng.normal(1.0, 0.25, 600).clip(0.2) / float(rng.uniform(25, 120)) * RATE).astype(int)
    pulses = np.zeros(count)
    pulses[slips[slips < count]] = rng.normal(0.0, 1.0, int(np.sum(slips < count)))
    rings = sum(_ring(float(hz), float(rng.uniform(0.003, 0.02))) for hz in rng.uniform(200, 2500, 3))
    return np.convolve(pulses, np.asarray(rings))[:count] * np.hanning(count)


def _burst(rng: np.random.Generator, pink: Floats) -> Floats:
    """Pink noise on and off."""
    count = round(float(rng.uniform(0.05, 0.5)) * RATE)
    at = int(rng.integers(0, len(pink) - count))
    return np.asarray(
        pink[at : at + count] * np.minimum(1.0, np.minimum(np.arange(count), np.arange(count)[::-1]) / 240)
    )


def _ring(hz: float, decay_s: float) -> Floats:
    seconds = np.arange(RATE // 10) / RATE
    return np.asarray(np.sin(2.0 * np.pi * hz * seconds) * np.exp(-seconds / decay_s))


def _sung_note(rng: np.random.Generator, hz: float, length_s: float, formants: Floats, vibrato_cents: float) -> Floats:
    """One sung vowel: every harmonic at the height of the formants where it is, moment by moment."""
    count = round(length_s * RATE)
    seconds = np.arange(count) / RATE
    grown = np.clip((seconds - 0.15) / 0.25, 0.0, 1.0)
    coarse = np.arange(0.0, length_s + 0.1, 0.02)
    drift = np.interp(seconds, coarse, np.cumsum(rng.normal(0.0, 2.5, len(coarse))))
    scoop = -float(rng.uniform(20, 120)) * np.exp(-seconds / 0.04)
    cents = vibrato_cents * grown * np.sin(2.0 * np.pi * 5.5 * seconds) + drift + scoop
    cycles = int(length_s * hz * 1.3) + 4
    along = np.cumsum(hz * 2.0 ** (cents / 1200.0)) / RATE
    jitter = np.interp(along, np.arange(cycles), rng.normal(0.0, 0.004, cycles))
    f0 = hz * 2.0 ** (cents / 1200.0) * (1.0 + jitter)
    shimmer = np.interp(along, np.arange(cycles), rng.normal(1.0, 0.03, cycles))
    phase = 2.0 * np.pi * np.cumsum(f0) / RATE
    voice = np.zeros(count)
    for number in range(1, int(9000.0 / hz)):
        voice += np.sin(number * phase) * _height(number * f0, formants) / number
    noise = rng.standard_normal(count)
    spectrum = np.fft.rfft(noise)
    breath = np.fft.irfft(
        spectrum * _height(np.asarray(np.fft.rfftfreq(count, 1.0 / RATE), np.float64), formants), count
    )
    breath *= 0.02 * np.sqrt(np.mean(voice**2) / np.mean(breath**2))
    ends = np.minimum(1.0, np.minimum(seconds / float(rng.uniform(0.02, 0.08)), seconds[::-1] / 0.06))
    return np.asarray((voice * shimmer + breath) * ends)


def _height(hz: Floats, formants: Floats) -> Floats:
    """Amplitude of the vocal tract at ``hz``: resonances in series, each 1 at 0 Hz."""
    height = np.ones(len(hz))
    for centre, width in zip((*formants, *_HIGHER_FORMANTS), _BANDWIDTHS, strict=True):
        height *= centre**2 / np.sqrt((centre**2 - hz**2) ** 2 + (width * hz) ** 2)
    return height
