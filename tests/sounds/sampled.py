"""Sampled harmonica: a score played by fluidsynth from a General MIDI sound font, with its measured truth.

The notes take turns on two channels, so that a bend never moves the tail of the note before. Each channel is rendered
alone and the sound is their sum: what Praat measures of one note is not disturbed by its neighbour. The truth of a
held note is its settled median by Praat, of a moving one Praat's own curve; the first 40 ms and the tail are not
scored. The recorded reeds themselves begin up to 70 cents low and take 50 (high) to 150 ms (low) to settle, so a held
note too has Praat's curve until it stays within 3 cents of its median. Renderings are kept in the machine's folder for
temporary files, keyed by everything that went into them.
"""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

import mido
import numpy as np
import soundfile
from numpy.typing import NDArray

from parts import require
from sounds.known import TRUTH_STEP_S, Floats, KnownSound, TruthNote
from sounds.praat import praat_curve, settled_hz
from sounds.scores import SCORES, Score, ScoreNote, in_key

RATE = 48000
#: General MIDI Level 1 sound set, program 23 counted from 1: harmonica.
HARMONICA = 22
ATTACK_S = 0.04
SETTLED_WITHIN_CENTS = 3.0
_CHANNELS = (0, 1)
#: The sound font is silent above this key: higher notes are this one, bent up.
_HIGHEST_KEY = 96
_BEND_RANGE_SEMITONES = 12
_REST_S = 0.4
_PITCH_MARGIN = 1.35
_SILENT_AMPLITUDE = 1e-4


def sampled(name: str, key: str = "C") -> KnownSound:
    """A named score of ``sounds.scores.SCORES`` on a harp in ``key``; see :func:`play_score`."""
    return play_score(in_key(SCORES[name](), key), f"sampled {name}, {key}")


def play_score(score: Score, name: str) -> KnownSound:
    """Render a score at 48 kHz and measure its truth.

    Skips the test when fluidsynth or its sound font is missing; raises ValueError for a bend out of
    the range and CalledProcessError when fluidsynth fails.
    """
    stems = [_render(midi_file(score, channel)) for channel in _CHANNELS]
    length = max(len(stem) for stem in stems)
    stems = [np.pad(stem, (0, length - len(stem))) for stem in stems]
    times: Floats = np.arange(int(length / RATE / TRUTH_STEP_S), dtype=np.float64) * TRUTH_STEP_S
    hz, scored = np.zeros(len(times)), np.ones(len(times), dtype=bool)
    notes: list[TruthNote] = []
    for index, note in enumerate(score):
        stem = stems[index % len(_CHANNELS)]
        following = [other.start_s for other in score[index + len(_CHANNELS) :: len(_CHANNELS)]]
        truth = _heard(note, stem, min(following, default=length / RATE))
        notes.append(truth)
        # Nothing between the beginning and the end of the tail is silence, whatever another note says there.
        scored[(times >= truth.start_s) & (times < truth.silent_s)] = False
    for index, note in enumerate(score):
        inside = (times >= note.start_s + ATTACK_S) & (times < note.start_s + note.length_s)
        hz[inside] = _measured(note, notes[index], stems[index % len(_CHANNELS)], times[inside])
        scored[inside] = hz[inside] > 0.0
    samples: NDArray[np.float32] = np.sum(stems, axis=0, dtype=np.float32)
    return KnownSound(name, RATE, np.asarray(samples), tuple(notes), times, hz, scored)


def midi_file(score: Score, only: int | None = None) -> bytes:
    """Standard MIDI file of a score, one tick a millisecond; of the notes of channel ``only`` unless None.

    Bends are sent every millisecond in which they change, over a range set by RPN 0 (MIDI 1.0, 4.2.1).
    """
    events: list[tuple[int, int, mido.Message]] = []
    for channel in _CHANNELS:
        events.append((0, 0, mido.Message("program_change", channel=channel, program=HARMONICA)))
        for control, value in ((101, 0), (100, 0), (6, _BEND_RANGE_SEMITONES), (38, 0)):
            events.append((0, 0, mido.Message("control_change", channel=channel, control=control, value=value)))
    for index, note in enumerate(score):
        channel = _CHANNELS[index % len(_CHANNELS)]
        if only in (None, channel):
            events += _note_events(note, channel)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)])
    before = 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=tick - before))
        before = tick
    track.append(mido.MetaMessage("end_of_track", time=round(1000 * (_end_s(score) + _REST_S)) - before))
    file = mido.MidiFile(type=0, ticks_per_beat=500, tracks=[track])
    written = io.BytesIO()
    file.save(file=written)
    return written.getvalue()


def cache_folder() -> Path:
    """Where renderings are kept: ``REEDWIRE_TEST_CACHE`` or the machine's folder for temporary files."""
    folder = os.environ.get("REEDWIRE_TEST_CACHE") or str(Path(tempfile.gettempdir()) / "reedwire-test-sounds")
    path = Path(folder)
    path.mkdir(parents=True, exist_ok=True)
    return path


def _note_events(note: ScoreNote, channel: int) -> list[tuple[int, int, mido.Message]]:
    """(tick, order within the tick, message) of one note: bend first, then the note, then its moving bend."""
    start, length = round(1000 * note.start_s), round(1000 * note.length_s)
    key = min(note.midi, _HIGHEST_KEY)
    cents = note.bend.at(np.arange(length) / 1000) + 100 * (note.midi - key)
    if np.max(np.abs(cents)) > 100 * _BEND_RANGE_SEMITONES:
        raise ValueError(f"more than {_BEND_RANGE_SEMITONES} semitones from key {key}: {note}")
    wheel = np.clip(np.round(cents * 8192 / (100 * _BEND_RANGE_SEMITONES)), -8192, 8191).astype(int)
    changes = [0, *(np.flatnonzero(np.diff(wheel)) + 1).tolist()]
    events = [(start + i, 1, mido.Message("pitchwheel", channel=channel, pitch=int(wheel[i]))) for i in changes]
    events.append((start, 2, mido.Message("note_on", channel=channel, note=key, velocity=100)))
    events.append((start + length, 0, mido.Message("note_off", channel=channel, note=key)))
    return events


def _render(midi: bytes) -> NDArray[np.float32]:
    """Left channel of a MIDI file as fluidsynth plays it, dry, as float32."""
    fluidsynth, soundfont = require("fluidsynth"), require("soundfont")
    options = ("-q", "-ni", "-R", "0", "-C", "0", "-g", "1.2", "-r", str(RATE), "-z", "64", "-T", "wav", "-O", "float")
    with tempfile.TemporaryDirectory() as folder:
        key = hashlib.sha256(midi + repr((options, soundfont, Path(soundfont).stat().st_size)).encode()).hexdigest()
        kept = cache_folder() / f"{key}.npy"
        if not kept.is_file():
            written, sound = Path(folder) / "in.mid", Path(folder) / "out.wav"
            written.write_bytes(midi)
            command = [fluidsynth, *options, "-F", str(sound), soundfont, str(written)]
            subprocess.run(command, check=True, capture_output=True)
            samples, _ = soundfile.read(sound, dtype="float32", always_2d=True)
            # Written beside and renamed: two test processes may render the same sound at once.
            unfinished = kept.with_suffix(f".{os.getpid()}.npy")
            np.save(unfinished, samples[:, 0])
            unfinished.replace(kept)
        return np.asarray(np.load(kept), dtype=np.float32)


def _heard(note: ScoreNote, stem: NDArray[np.float32], until_s: float) -> TruthNote:
    """The note with its attack, its settled pitch and the end of its tail as they are in its own channel."""
    start, end = round(note.start_s * RATE), round((note.start_s + note.length_s) * RATE)
    size = np.abs(stem[start : round(until_s * RATE)])
    settled = float(np.max(size[round(ATTACK_S * RATE) : max(end - start, round(2 * ATTACK_S * RATE))]))
    attack_s = note.start_s + float(np.argmax(size >= 0.1 * settled)) / RATE
    sounding = np.flatnonzero(size > _SILENT_AMPLITUDE)
    silent_s = note.start_s + (int(sounding[-1]) + 1) / RATE
    hz = 0.0
    if note.bend.held:
        floor, ceiling = _praat_range(note)
        later = max(ATTACK_S, 0.5 * note.length_s)
        hz = settled_hz(stem, RATE, note.start_s, note.start_s + note.length_s, floor, ceiling, later)
    return TruthNote(
        note.start_s,
        note.start_s + note.length_s,
        note.midi,
        note.bend,
        attack_s,
        silent_s,
        note.hole,
        note.air,
        hz,
    )


def _measured(note: ScoreNote, truth: TruthNote, stem: NDArray[np.float32], times: Floats) -> Floats:
    """Praat's pitch in Hz of one note at ``times``; 0 where it found none."""
    floor, ceiling = _praat_range(note)
    begin, end = round(note.start_s * RATE), round((truth.end_s + ATTACK_S) * RATE)
    at, hz = praat_curve(stem[begin:end], RATE, floor, ceiling)
    voiced = hz > 0.0
    if not voiced.any():
        return np.zeros(len(times))
    since = times - note.start_s
    # A point is known only where Praat has a pitch on both sides of it, not across a hole.
    near = np.interp(since, at, voiced.astype(float), left=0.0, right=0.0) > 1.0 - 1e-9
    curve = np.where(near, np.exp2(np.interp(since, at[voiced], np.log2(hz[voiced]))), 0.0)
    if truth.settled_hz > 0.0:
        cents = 1200 * np.abs(np.log2(np.where(near, curve, truth.settled_hz) / truth.settled_hz))
        moving = np.flatnonzero((cents > SETTLED_WITHIN_CENTS) & (times < truth.end_s - ATTACK_S / 2))
        curve[int(moving[-1]) + 1 if len(moving) else 0 :] = truth.settled_hz
    return curve


def _praat_range(note: ScoreNote) -> tuple[float, float]:
    """Floor and ceiling in Hz close around everything the note was asked to do."""
    cents = note.bend.at(np.arange(0.0, note.length_s, TRUTH_STEP_S))
    asked = 440.0 * 2.0 ** ((note.midi - 69 + cents / 100) / 12)
    return float(np.min(asked)) / _PITCH_MARGIN, float(np.max(asked)) * _PITCH_MARGIN


def _end_s(score: Sequence[ScoreNote]) -> float:
    """Seconds at which the last note of a score ends."""
    return max(note.start_s + note.length_s for note in score)
