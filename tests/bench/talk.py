"""Talk, song and noise beside the harp: notes that must not be, and notes that must all be kept."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import soxr
from scipy.signal import butter, sosfilt

from bench.cases import Case, sampled_case
from bench.noting import NoteFigures, note_figures, note_ons
from bench.peers import plain_frames
from bench.special import Numbers
from bench.wanted import Target
from bridge.base.events import NoteOn
from bridge.base.units import cents_between
from bridge.quantise.scales import find_scale
from bridge.quantise.settings import QuantiseSettings
from sounds.known import KnownSound, TruthNote
from sounds.speech import VOICES, between_phrases, full_band, noises, speech, sung

_KEYS = ("C", "low-F")
_PHRASES = (("English", "C"), ("Italian", "low-F"), ("French", "A"), ("Russian", "D"))
_DULL = (("phrase", "A"), ("phrase", "low-F"), ("every hole", "C"))
#: A bullet microphone in cupped hands, two guesses (from memory), and a telephone.
_BULLET, _CUPPED, _TELEPHONE_RATE = (1500.0, 2), (2500.0, 4), 8000
_EARLY_S, _IN_TIME_S, _SOON_S = 0.01, 0.05, 0.02


def recorded_speech() -> Numbers:
    """Notes in 60 s of each recorded voice, at most, as it is and with the band that telephones lack."""
    voices = [speech(language) for language in VOICES]
    return {
        "most notes a minute": max(_notes(voice) for voice in voices),
        "most notes a minute, full band": max(_notes(full_band(voice)) for voice in voices),
    }


def claps_and_noise() -> Numbers:
    """Notes in 60 s of claps, clicks, chair scrapes and bursts of pink noise, at most."""
    return {"most notes a minute": max(_notes(noises(seed=seed)) for seed in (1, 2))}


def singing() -> Numbers:
    """Notes in 60 s of synthesised singing, man and woman, straight and with vibrato, at most."""
    voices = [sung(woman=woman, vibrato_cents=cents) for woman in (False, True) for cents in (0.0, 40.0)]
    return {"most notes a minute": max(map(_notes, voices))}


def speech_between_phrases() -> Numbers:
    """Phrases of the sampled harmonica with five seconds of speech between them: how its notes fared."""
    played = kept = prompt = invented = 0
    for language, key in _PHRASES:
        case = Case(between_phrases(key, language), key, 440.0)
        found = _heard(case)
        taken = 0
        for note in case.sound.notes:
            mine = [
                on for on in found if note.attack_s - _EARLY_S <= on.ready_s < note.end_s and _is_right(case, note, on)
            ]
            played += 1
            kept += bool(mine)
            prompt += any(on.ready_s <= note.attack_s + _IN_TIME_S for on in mine)
            taken += len(mine[:1])
        invented += len(found) - taken
    return {
        "kept %": 100.0 * kept / played,
        "within 50 ms %": 100.0 * prompt / played,
        "invented": float(invented),
    }


def dull_harp(low_pass: tuple[float, int] | None) -> Numbers:
    """The sampled harmonica through a dull microphone (Butterworth, Hz and order) or, with None, a rate of 8 kHz."""
    figures = NoteFigures()
    for name, key in _DULL:
        case = sampled_case(name, key)
        dull = Case(_dull(case.sound, low_pass), case.key, case.a4_hz)
        figures += note_figures(dull, note_ons(dull, plain_frames(dull)))
    delays_ms = np.array(figures.delays_ms)
    return {
        "kept %": 100.0 * float(np.mean(np.isfinite(delays_ms))),
        "within 50 ms %": 100.0 * float(np.mean(delays_ms <= 1000.0 * _IN_TIME_S)),
        "wrong": float(figures.wrong),
    }


def _dull(sound: KnownSound, low_pass: tuple[float, int] | None) -> KnownSound:
    if low_pass is None:
        narrow = soxr.resample(soxr.resample(sound.samples, sound.rate, _TELEPHONE_RATE), _TELEPHONE_RATE, sound.rate)
        samples = np.zeros(len(sound.samples))
        samples[: len(narrow)] = narrow[: len(samples)]
    else:
        hz, order = low_pass
        samples = sosfilt(butter(order, hz, fs=sound.rate, output="sos"), sound.samples)
    return sound.altered("dull", np.asarray(samples, np.float32))


def _notes(sound: KnownSound) -> float:
    """Notes a minute on the harp where there are more."""
    return max(len(_heard(Case(sound, key, 440.0))) * 60.0 / sound.length_s for key in _KEYS)


def _heard(case: Case) -> list[NoteOn]:
    return note_ons(case, plain_frames(case))


def _is_right(case: Case, note: TruthNote, on: NoteOn) -> bool:
    """Whether this Note On is the slot of a pitch that the note had by then or soon after, 5 cents either way."""
    sound, settings = case.sound, QuantiseSettings()
    scale = find_scale(settings.scale, settings.scales)
    until_s = max(on.ready_s, note.attack_s + _IN_TIME_S) + _SOON_S
    had = sound.hz[(sound.times_s >= note.attack_s) & (sound.times_s < until_s) & (sound.hz > 0.0)].tolist()
    # What a recorded reed does in its first 40 ms is not known: there, what it was asked to do counts too.
    asked = note.bend.at(np.linspace(0.0, until_s - note.start_s, 30)) / 100.0
    had += (case.a4_hz * 2.0 ** ((note.midi + asked - 69.0) / 12.0)).tolist()
    anchors = {scale.place(cents_between(hz, case.root_hz) + border).anchor for hz in had for border in (-5.0, 5.0)}
    return on.midi_note in {case.root_midi + round(anchor / 100.0) for anchor in anchors}


ROWS: dict[str, Callable[[], Numbers]] = {
    "recorded speech": recorded_speech,
    "claps, clicks, chairs, noise": claps_and_noise,
    "singing": singing,
    "speech between phrases": speech_between_phrases,
    "dull harp, 1.5 kHz, 12 dB an octave": partial(dull_harp, _BULLET),
    "dull harp, 2.5 kHz, 24 dB an octave": partial(dull_harp, _CUPPED),
    "dull harp, 8 kHz samples": partial(dull_harp, None),
}
TARGETS: tuple[Target, ...] = (
    Target("recorded speech: most notes a minute", "recorded speech", "most notes a minute", "<=", 1.0),
    Target(
        "claps, clicks, chairs, noise: most notes a minute",
        "claps, clicks, chairs, noise",
        "most notes a minute",
        "<=",
        1.0,
    ),
    Target("speech between phrases: notes of the harp kept, %", "speech between phrases", "kept %", ">=", 100.0),
    *(Target(f"{row}: notes kept, %", row, "kept %", ">=", 100.0) for row in ROWS if row.startswith("dull harp")),
)
