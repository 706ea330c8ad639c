"""Talk straight after playing, when the next note is awaited: the hardest moment to tell the two apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from bench.cases import Case
from bench.noting import quantiser
from bench.peers import plain_frames
from bench.special import Numbers
from bench.wanted import Target
from bridge.base.events import NoteOn, PitchFrame
from bridge.quantise.hearing import Hearing
from bridge.quantise.settings import QuantiseSettings
from sounds.known import KnownSound, TruthNote
from sounds.sampled import sampled
from sounds.speech import VOICES, speech

#: Each voice speaks so often, for so long, so long after the last note, seconds.
TIMES, SPEAKS_S, PAUSE_S = 5, 1.5, 0.2
#: Notes of a lick.
LICK = 4


def talk_after_playing() -> Numbers:
    """Notes begun while somebody speaks, live and in a recording, and notes of the licks that were found, %."""
    sound, spoken_s = licks_and_talk()
    case = Case(sound, "C", 440.0)
    frames = plain_frames(case)
    figures: Numbers = {"times": float(len(spoken_s))}
    for how, recorded in (("live", False), ("recording", True)):
        starts = [on.time_s for on in _ons(case, frames, recorded=recorded)]
        begun = sum(start <= at < start + SPEAKS_S for at in starts for start in spoken_s)
        found = sum(any(abs(at - note.attack_s) < 0.1 for at in starts) for note in sound.notes)
        figures |= {f"{how}, begun": float(begun), f"{how}, found %": 100.0 * found / len(sound.notes)}
    return figures


def licks_and_talk() -> tuple[KnownSound, list[float]]:
    """A lick, a voice, a lick, another voice and so on, and where each voice begins, seconds."""
    lick = sampled("phrase")
    end = round(lick.notes[LICK - 1].end_s * lick.rate)
    pieces, notes, spoken_s, at = [], [], list[float](), 0
    for language in VOICES:
        voice = speech(language).samples
        for turn in range(TIMES):
            by_s = at / lick.rate
            notes += [_later(note, by_s) for note in lick.notes[:LICK]]
            said = voice[(size := round(SPEAKS_S * lick.rate)) * 2 * turn :][:size]
            pause = np.zeros(round(PAUSE_S * lick.rate), np.float32)
            pieces += [lick.samples[:end], pause, said, pause]
            spoken_s.append((at + end + len(pause)) / lick.rate)
            at += end + 2 * len(pause) + len(said)
    nothing, none = np.zeros(0), np.zeros(0, bool)
    samples = np.concatenate(pieces).astype(np.float32)
    return replace(lick, samples=samples, notes=tuple(notes), times_s=nothing, hz=nothing, scored=none), spoken_s


def _later(note: TruthNote, by_s: float) -> TruthNote:
    return replace(
        note,
        start_s=note.start_s + by_s,
        attack_s=note.attack_s + by_s,
        end_s=note.end_s + by_s,
        silent_s=note.silent_s + by_s,
    )


def _ons(case: Case, frames: Sequence[PitchFrame], *, recorded: bool) -> list[NoteOn]:
    settings = QuantiseSettings().unhurried() if recorded else QuantiseSettings()
    hearing, played = Hearing(settings, tells_reeds=True, look_ahead=recorded), quantiser(case)
    settled = [heard for frame in frames for heard in hearing.step(frame)] + hearing.finish()
    return [event for heard in settled for event in played.step(heard) if isinstance(event, NoteOn)]


ROWS: dict[str, Callable[[], Numbers]] = {"talk straight after playing": talk_after_playing}
TARGETS: tuple[Target, ...] = (
    Target(
        "talk straight after playing, recording: notes begun",
        "talk straight after playing",
        "recording, begun",
        "<=",
        0.0,
    ),
    Target("talk straight after playing, live: notes begun", "talk straight after playing", "live, begun", "<=", 0.0),
)
