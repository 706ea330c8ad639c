"""A phrase on a sampled harmonica, through the real command and OSC, into a voice of ``shared/receivers`` and back.

Both sounds, the harmonica that went in and the voice that came out, are measured by Praat (praat-parselmouth). They are
laid over each other with the one delay that fits best, so that what is compared is the pitch alone. That delay is the
same for the whole phrase: where the command or a receiver comes late at one moment and not at another, that counts.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from main_job.command import reedwire
from main_job.receivers import RATE, pure_data, super_collider
from sounds.known import Bend, Floats, KnownSound, TruthNote
from sounds.praat import praat_curve
from sounds.sampled import play_score
from sounds.scores import BLOW, DRAW, THIRD, ScoreNote

#: Straight notes, a scoop to a blue third, vibrato, a bend of two semitones and back; seconds, as for all scores.
SCORE = (
    ScoreNote(0.2, 0.6, DRAW[1], hole=2, air="draw"),
    ScoreNote(0.9, 0.6, DRAW[3], hole=4, air="draw"),
    ScoreNote(1.6, 1.2, THIRD, Bend(((0.1, -110.0), (0.5, -40.0))), 3, "draw"),
    ScoreNote(2.9, 1.4, DRAW[1], Bend(vibrato_cents=35.0, vibrato_hz=5.5, vibrato_from_s=0.3), 2, "draw"),
    ScoreNote(4.4, 1.7, THIRD, Bend(((0.3, 0.0), (0.65, -200.0), (1.0, -200.0), (1.35, 0.0))), 3, "draw"),
    ScoreNote(6.2, 0.5, BLOW[5], hole=6, air="blow"),
    ScoreNote(6.8, 0.9, DRAW[3], Bend(vibrato_cents=30.0, vibrato_hz=6.0, vibrato_from_s=0.2), 4, "draw"),
    ScoreNote(7.8, 0.7, BLOW[3], hole=4, air="blow"),
)
Samples = NDArray[np.float32]
Receiver = Callable[[Path], AbstractContextManager[int]]
WITHIN_CENTS = 5.0
#: Not compared: the head of a note, in which it is not yet known what it will be, and its end.
HEAD_S = END_S = 0.06
_STEP_S = 0.001
_MARGIN = 1.35
_DELAY_S = 0.3


@dataclass(frozen=True)
class Compared:
    """Cents between the two at each compared millisecond, the part of those with a pitch in both, and the delay."""

    cents: Floats
    voiced: float
    delay_s: float


def compared(sound: KnownSound, voice: Samples, begins_s: float) -> Compared:
    """The voice, whose recording began ``begins_s`` before the sound at the earliest, beside the harmonica."""
    curves = [_both(note, sound.samples, voice, begins_s) for note in sound.notes]
    delays = np.arange(0.0, _DELAY_S, _STEP_S)
    found = [_apart(curves, delay) for delay in delays]
    best = min(range(len(delays)), key=lambda i: float(np.median(np.where(np.isnan(found[i]), 1e4, found[i]))))
    cents = found[best]
    return Compared(cents[~np.isnan(cents)], float(np.mean(~np.isnan(cents))), float(delays[best]))


@pytest.mark.parametrize("receiver", [pure_data, super_collider])
def test_the_voice_follows_the_harmonica(
    receiver: Receiver, tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    """95 of 100 milliseconds are within 5 cents of each other, over notes, scoop, vibrato and bend.

    A busy machine makes it worse: with one of two cores kept busy 1 to 3 cents were seen, with both 3.4 at most.
    """
    sound = play_score(SCORE, "round trip")
    voice = _played(sound, receiver, tmp_path)
    heard = compared(sound, voice, _first_sound_s(voice) - sound.notes[0].attack_s - _DELAY_S / 2)
    p50, p95 = np.percentile(heard.cents, [50, 95])
    for name, value in (("p50_cents", p50), ("p95_cents", p95), ("voiced", heard.voiced), ("lag_s", heard.delay_s)):
        record_property(name, round(float(value), 3))
    assert heard.voiced >= 0.98
    assert p95 <= WITHIN_CENTS


def _played(sound: KnownSound, receiver: Receiver, folder: Path) -> Samples:
    """What the voice makes of the sound."""
    soundfile.write(folder / "sound.wav", sound.samples, sound.rate, subtype="PCM_24")
    with receiver(folder) as port:
        said = reedwire("play", "--input", folder / "sound.wav", "--osc", f"127.0.0.1:{port}", "--midi", "none")
    assert said.status == 0, said.err
    voice, rate = soundfile.read(folder / "voice.wav", dtype="float32", always_2d=True)
    assert rate == RATE
    return np.asarray(voice[:, 0])


def _first_sound_s(voice: Samples) -> float:
    """Seconds at which the recording first reaches a hundredth of its largest amplitude."""
    size = np.abs(voice)
    assert np.max(size) > 0.001, "the voice is silent"
    return int(np.argmax(size >= 0.01 * np.max(size))) / RATE


def _both(note: TruthNote, harmonica: Samples, voice: Samples, begins_s: float) -> tuple[Floats, Floats, Floats]:
    """Times of the sound at which the note is compared, the harmonica's pitch there, and the voice's with its delays.

    The voice's has ``_DELAY_S`` more points, one a millisecond; NaN in both where there is no pitch.
    """
    times = np.arange(note.start_s + HEAD_S, note.end_s - END_S, _STEP_S)
    later = times[0] + np.arange(len(times) + round(_DELAY_S / _STEP_S)) * _STEP_S
    asked = 440.0 * 2.0 ** ((note.midi - 69 + note.bend.at(times - note.start_s) / 100) / 12)
    floor, ceiling = float(np.min(asked)) / _MARGIN, float(np.max(asked)) * _MARGIN
    return times, _pitch(harmonica, times, floor, ceiling), _pitch(voice, begins_s + later, floor, ceiling)


def _pitch(samples: Samples, times: Floats, floor: float, ceiling: float) -> Floats:
    """Praat's pitch at ``times`` in octaves over 1 Hz, NaN where it has none on one side or the other."""
    begin = max(0, round((times[0] - HEAD_S) * RATE))
    at, hz = praat_curve(samples[begin : round((times[-1] + END_S) * RATE)], RATE, floor, ceiling)
    pitch = np.full(len(hz), np.nan)
    np.log2(hz, where=hz > 0.0, out=pitch)
    return np.asarray(np.interp(times, at + begin / RATE, pitch, left=np.nan, right=np.nan))


def _apart(curves: list[tuple[Floats, Floats, Floats]], delay_s: float) -> Floats:
    """Cents between the two at every compared millisecond of all notes, with this delay of the voice."""
    skip = round(delay_s / _STEP_S)
    return np.concatenate([1200.0 * np.abs(voice[skip : skip + len(times)] - harp) for times, harp, voice in curves])
