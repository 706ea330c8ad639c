"""Takes of the sampled harmonica as their tables hold them, to be edited and sung again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from bridge.takes.edited import Breakpoint, EditedNote
from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings
from main_job.take_files import read_curve, read_notes
from sounds.praat import praat_curve
from sounds.sampled import play_score
from sounds.scores import Score

RATE = 48000
Floats = NDArray[np.float64]
#: A breakpoint this often, in seconds: far more than a take has, so that they are as good as its curve.
_POINT_S = 0.005


@dataclass(frozen=True, eq=False)
class PlayedTake:
    """The sound of a take and its notes as they were played."""

    sound: Path
    notes: tuple[EditedNote, ...]

    @property
    def samples(self) -> Floats:
        """What ``sound.wav`` holds."""
        return np.asarray(soundfile.read(self.sound)[0], np.float64)


def played_take(score: Score, folder: Path) -> PlayedTake:
    """The take that ``transcribe`` makes of a score played by the sampled harmonica."""
    known = play_score(score, "to be sung again")
    recording = folder / "played.wav"
    soundfile.write(recording, known.samples, RATE, subtype="PCM_24")
    report = transcribe_file(recording, folder, load_settings(flags={"harp.key": "C"}))
    curve = read_curve(report.folder)
    notes = []
    for row in read_notes(report.folder):
        inside = (curve.time_s >= row.start_s) & (curve.time_s <= row.end_s) & (curve.hz > 0.0)
        at_s, bends = curve.time_s[inside] - row.start_s, 1200.0 * np.log2(curve.hz[inside] / 440.0)
        grid = np.arange(at_s[0], at_s[-1], _POINT_S)
        values = np.interp(grid, at_s, bends) - 100.0 * (row.midi_note - 69)
        points = tuple(Breakpoint(float(at), float(bend), 0.5) for at, bend in zip(grid, values, strict=True))
        reed = (row.hole, row.air, row.reed, row.reed_bend_cents, row.or_else)
        fixed = (row.id, row.start_s, row.length_s, row.midi_note, row.degree, row.velocity)
        notes.append(EditedNote(*fixed, *reed, points))
    return PlayedTake(report.folder / "sound.wav", tuple(notes))


def bent(note: EditedNote, bend: Callable[[float, float], float]) -> EditedNote:
    """The note with a curve that ``bend`` makes of seconds since its start and the bend there, in cents."""
    points = (replace(point, bend_cents=bend(point.at_s, point.bend_cents)) for point in note.points)
    return replace(note, points=tuple(points))


def wanted_hz(note: EditedNote, times_s: Floats) -> Floats:
    """The curve of a note in Hz at times of the take: MIDI 1.0's formula with the bend added."""
    cents = [note.at(float(at) - note.start_s).bend_cents for at in times_s]
    return np.asarray(440.0 * 2.0 ** ((note.midi_note - 69 + np.asarray(cents) / 100.0) / 12.0))


def off_cents(samples: Floats, note: EditedNote, from_s: float, to_s: float) -> Floats:
    """By how many cents the pitch that Praat hears lies above the curve of the note, every 2 ms where it hears one."""
    times_s = np.arange(note.start_s + from_s, note.start_s + to_s, 0.002)
    aimed = wanted_hz(note, times_s)
    begin, end = round((times_s[0] - 0.1) * RATE), round((times_s[-1] + 0.1) * RATE)
    at_s, hz = praat_curve(
        samples[begin:end].astype(np.float32), RATE, float(aimed.min()) / 1.2, float(aimed.max()) * 1.2
    )
    voiced = hz > 0.0
    near = np.interp(times_s - begin / RATE, at_s, voiced.astype(float)) > 0.999
    heard = np.exp2(np.interp(times_s - begin / RATE, at_s[voiced], np.log2(hz[voiced])))
    return np.asarray(1200.0 * np.log2(heard[near] / aimed[near]), np.float64)
