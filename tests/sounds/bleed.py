"""The synth's own sound coming back: our events played by fluidsynth and mixed under the player's sound."""

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

from bridge.base.events import Event, Inflection, NoteOff, NoteOn
from parts import require
from sounds.known import KnownSound
from sounds.sampled import RATE, cache_folder

#: General MIDI Level 1 sound set, programs 81 and 23 counted from 1.
LEAD, HARMONICA = 80, 22
RANGE_SEMITONES = 12
_VELOCITY = 96


def synth_sound(events: Sequence[Event], program: int, seconds: float) -> NDArray[np.float32]:
    """What fluidsynth plays, 48 kHz mono float32 of ``seconds``, of the events at the times they were ready.

    Skips the test when fluidsynth or its sound font is missing.
    """
    fluidsynth, soundfont = require("fluidsynth"), require("soundfont")
    midi = midi_of(events, program)
    options = ("-q", "-ni", "-R", "0", "-C", "0", "-g", "1.2", "-r", str(RATE), "-z", "64", "-T", "wav", "-O", "float")
    key = hashlib.sha256(midi + repr((options, soundfont, Path(soundfont).stat().st_size)).encode()).hexdigest()
    kept = cache_folder() / f"{key}.npy"
    if not kept.is_file():
        with tempfile.TemporaryDirectory() as folder:
            written, sound = Path(folder) / "in.mid", Path(folder) / "out.wav"
            written.write_bytes(midi)
            subprocess.run([fluidsynth, *options, "-F", str(sound), soundfont, str(written)], check=True)
            samples, _ = soundfile.read(sound, dtype="float32", always_2d=True)
        # Written beside and renamed: two test processes may render the same sound at once.
        unfinished = kept.with_suffix(f".{os.getpid()}.npy")
        np.save(unfinished, samples[:, 0])
        unfinished.replace(kept)
    samples, made = np.load(kept), np.zeros(round(seconds * RATE), np.float32)
    made[: len(samples)] = samples[: len(made)]
    return made


def midi_of(events: Sequence[Event], program: int) -> bytes:
    """Standard MIDI file of notes and bends at ``ready_s``, one tick a millisecond."""
    messages = [(0.0, mido.Message("program_change", program=program))]
    for control, value in ((101, 0), (100, 0), (6, RANGE_SEMITONES), (38, 0)):
        messages.append((0.0, mido.Message("control_change", control=control, value=value)))
    sounding = 0
    for event in events:
        if isinstance(event, NoteOn):
            sounding = event.midi_note
            messages.append((event.ready_s, _bend(event.inflection.bend_cents)))
            messages.append((event.ready_s, mido.Message("note_on", note=sounding, velocity=_VELOCITY)))
        elif isinstance(event, NoteOff):
            messages.append((event.ready_s, mido.Message("note_off", note=sounding)))
        elif isinstance(event, Inflection):
            messages.append((event.ready_s, _bend(event.bend_cents)))
    track, before = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000)]), 0
    for at_s, message in messages:
        tick = max(before, round(1000.0 * at_s))
        track.append(message.copy(time=tick - before))
        before = tick
    file = mido.MidiFile(type=0, ticks_per_beat=500, tracks=[track])
    written = io.BytesIO()
    file.save(file=written)
    return written.getvalue()


def with_bleed(sound: KnownSound, synth: NDArray[np.float32], level_db: float, delay_s: float) -> KnownSound:
    """The sound with the synth's ``delay_s`` later, its loudness where it sounds ``level_db`` from the player's."""
    late = np.zeros(len(sound.samples))
    shift = round(delay_s * sound.rate)
    late[shift:] = synth[: len(late) - shift]
    late *= _loud(sound.samples) / _loud(late) * 10.0 ** (level_db / 20.0)
    return sound.altered(f"bleed of {level_db:g} dB", (sound.samples + late).astype(np.float32))


def _bend(cents: float) -> mido.Message:
    wheel = round(cents * 8192 / (100 * RANGE_SEMITONES))
    return mido.Message("pitchwheel", pitch=min(max(wheel, -8192), 8191))


def _loud(samples: NDArray[np.floating]) -> float:
    """RMS of what sounds: all within 40 dB of the peak."""
    size = np.abs(samples.astype(np.float64))
    return float(np.sqrt(np.mean(size[size > 0.01 * np.max(size)] ** 2)))
