"""Talk, song and noise beside the harp: notes that must not be, and notes that must all be kept."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from bench.cases import Case
from bench.noting import note_ons
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
)
