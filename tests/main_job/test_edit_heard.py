"""Edits as they are heard: a take is edited by command, and Praat measures the sound that was sung again for it.

Truth: Praat's autocorrelation (sounds/praat.py says where it comes from), which has no part in the editing; where the
notes shall be is read from the tables of the new take with nothing of the project, and from what was asked for.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile
import yaml

from demo_run import Demo
from main_job.command import reedwire
from main_job.take_files import Note, read_notes
from sounds.praat import praat_curve

#: G4, the root of a C harp in cross position (common practice), in Hz (MIDI 1.0 tuning, note 67).
ROOT_HZ, ROOT_MIDI = 391.995, 67
WITHIN_CENTS = 5.0


@pytest.fixture(scope="module")
def take(demo: Demo, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what the demo plays, on a C harp."""
    own: Path = shutil.copytree(demo.take, tmp_path_factory.mktemp("edits") / demo.take.name)
    assert yaml.safe_load((own / "take.yaml").read_text(encoding="utf-8"))["harp"]["key"] == "C"
    return own


def edited(take: Path, *words: str) -> Path:
    """The new take of an edit."""
    name = words[0]
    said = reedwire("edit", name, take, *words[1:], "--name", name, "--out", take.parent / "edited")
    assert said.status == 0, said.err
    assert said.accidents == []
    return take.parent / "edited" / name


def heard_cents(take: Path, note: Note) -> float:
    """Where Praat hears the last third of a note, without its release, in cents above the root in its octave."""
    samples, rate = soundfile.read(take / "resung.wav", dtype="float32")
    part = samples[round((note.start_s + 0.6 * (note.end_s - note.start_s)) * rate) : round((note.end_s - 0.03) * rate)]
    hz = ROOT_HZ * 2.0 ** ((note.midi_note - ROOT_MIDI) / 12.0)
    _, heard = praat_curve(part, rate, hz / 1.3, hz * 1.25)
    cents: float = 1200.0 * np.log2(np.median(heard[heard > 0.0]) / ROOT_HZ)
    return cents


def test_thirds_are_heard_where_they_were_moved_to(take: Path) -> None:
    """Six tongued thirds that were flattened more and more all lie at the quarter tone, 350 cents above the root."""
    new = edited(take, "settle", "--at", "350", "--degree", "3")
    notes = [note for note in read_notes(new) if 14.0 < note.start_s < 15.5]
    assert len(notes) == 6
    assert [heard_cents(new, note) for note in notes] == pytest.approx([350.0] * 6, abs=WITHIN_CENTS)
    before = [note for note in read_notes(take) if 14.0 < note.start_s < 15.5]
    assert [(note.start_s, note.midi_note) for note in notes] == [(note.start_s, note.midi_note) for note in before]


def test_a_take_is_heard_on_the_other_harp(take: Path) -> None:
    """Three semitones lower, from C to A: the straight root at the beginning and at the end lies 300 cents below G4."""
    new = edited(take, "transpose", "--harp", "A")
    notes = read_notes(new)
    roots = [note for note in notes if note.degree == "1" and (note.start_s < 1.0 or note.start_s > 27.0)]
    assert [note.midi_note for note in roots] == [ROOT_MIDI - 3] * 2
    assert [heard_cents(new, note) for note in roots] == pytest.approx([-300.0] * 2, abs=WITHIN_CENTS)
