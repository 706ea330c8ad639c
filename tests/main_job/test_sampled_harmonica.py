"""Recordings of a sampled harmonica, broken down by ``transcribe``: notes, starts, bends.

The truth of every sound is the score it was rendered from and what Praat (praat-parselmouth) measures on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import load_settings
from main_job.command import reedwire
from main_job.expected import CURVE_WITHIN_CENTS, START_WITHIN_S, curve_errors, unlike
from main_job.take_files import Curve, Note, read_curve, read_notes
from sounds.known import KnownSound
from sounds.sampled import sampled

#: An octave each way, so that a deep bend stays one note.
WIDE = "send.midi.bend_range=12"
CASES = (
    ("every hole", "C"),
    ("every hole", "low-F"),
    ("every hole", "high-G"),
    ("blue thirds", "C"),
    ("tongued repeats", "C"),
    ("minor to major", "C"),
    ("deep draw bend", "C"),
    ("vibrato", "C"),
    ("phrase", "C"),
)
DERIVED = {"notes.csv", "inflections.csv", "tab.txt", "performance.mid", "score.musicxml"}
FILES = {"take.yaml", "curve.csv", "sound.wav", "played"} | DERIVED


@dataclass(frozen=True, eq=False)
class Transcribed:
    """A sound, the harp it was played on, and its take."""

    sound: KnownSound
    key: str
    folder: Path
    notes: list[Note]
    curve: Curve


def write_sound(folder: Path, sound: KnownSound) -> Path:
    """The sound as a WAV file of 24 bits."""
    path = folder / "sound.wav"
    soundfile.write(path, sound.samples, sound.rate, subtype="PCM_24")
    return path


def transcribed(name: str, key: str, folder: Path, *sets: str) -> Transcribed:
    """A sampled score and what the program makes of its file."""
    sound = sampled(name, key)
    settings = load_settings(None, [f"harp.key={key}", *sets])
    take = transcribe_file(write_sound(folder, sound), folder, settings).folder
    return Transcribed(sound, key, take, read_notes(take), read_curve(take))


@pytest.fixture(scope="module", params=CASES, ids=[f"{name}, {key}" for name, key in CASES])
def take(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Transcribed:
    """Each case once, with the wide bend range."""
    name, key = request.param
    return transcribed(name, key, tmp_path_factory.mktemp("take"), WIDE)


def test_every_note_is_found_and_no_other(take: Transcribed) -> None:
    """Each played note is one row that starts within 30 ms of its attack; there are no more rows."""
    starts = np.array([note.attack_s for note in take.sound.notes])
    found = np.array([note.start_s for note in take.notes])
    assert len(found) == len(starts)
    assert np.max(np.abs(found - starts)) <= START_WITHIN_S


def test_every_note_has_its_number_degree_and_reed(take: Transcribed) -> None:
    """MIDI note, degree and hole are those of what was played; a bend held has its own, the third is one slot."""
    assert unlike(take.sound, take.key, take.notes) == []


def test_every_note_lasts_as_long_as_it_was_played(take: Transcribed) -> None:
    """A note sounds to its end or the next note, and ends at the latest when its tail has died away."""
    assert len(take.notes) == len(take.sound.notes)
    for row, note in zip(take.notes, take.sound.notes, strict=True):
        assert row.end_s >= note.end_s - START_WITHIN_S
        assert row.end_s <= note.silent_s + START_WITHIN_S


def test_the_curve_is_what_praat_measures(take: Transcribed) -> None:
    """In each note 95 of 100 points lie within 10 cents of Praat's, and the pitch is there all the time."""
    for note in take.sound.notes:
        errors, heard = curve_errors(take.sound, note, take.curve)
        assert len(errors) > 20
        assert np.percentile(errors, 95) <= CURVE_WITHIN_CENTS
        assert heard > 0.98


def test_the_cents_of_the_curve_are_those_of_its_frequency(take: Transcribed) -> None:
    """``cents`` is 1200 log2(hz / root), the root being hole 2 drawn; where ``hz`` is 0 so is ``cents``."""
    root_midi = {"low-F": 60, "C": 67, "high-G": 74}[take.key]  # cross position; harp keys from OEIS A291810's C harp
    root_hz = 440.0 * 2.0 ** ((root_midi - 69) / 12)  # MIDI 1.0, 4.2.1
    sounding = take.curve.hz > 0.0
    cents = 1200.0 * np.log2(take.curve.hz[sounding] / root_hz)
    np.testing.assert_allclose(take.curve.cents[sounding], cents, atol=0.02)
    assert not np.any(take.curve.cents[~sounding])


def test_the_curve_runs_on_in_order(take: Transcribed) -> None:
    """Times never go back, no frame describes what had not yet been heard, and the whole sound is covered."""
    curve = take.curve
    assert np.all(np.diff(curve.time_s) >= 0.0)
    assert np.all(np.diff(curve.ready_s) >= 0.0)
    assert np.all(curve.ready_s >= curve.time_s)
    assert np.max(np.diff(curve.ready_s)) < 0.004
    assert curve.ready_s[0] < 0.01
    assert curve.ready_s[-1] > take.sound.length_s - 0.01


def test_a_third_from_minor_to_major_is_one_note_with_the_whole_way_in_it(tmp_path: Path) -> None:
    """The number is the major third's from the first, and the curve goes from the minor third up to the major."""
    take = transcribed("minor to major", "C", tmp_path)
    (note,) = take.notes
    assert (note.midi_note, note.degree) == (71, "3")  # B4 over G
    inside = (take.curve.time_s > 0.4) & (take.curve.time_s < 1.35)
    # Equal thirds, 300 and 400 cents.
    assert take.curve.cents[inside][0] == pytest.approx(300.0, abs=CURVE_WITHIN_CENTS)
    assert take.curve.cents[inside][-1] == pytest.approx(400.0, abs=CURVE_WITHIN_CENTS)


def test_a_draw_bend_of_three_semitones_is_one_note_with_the_wide_range(tmp_path: Path) -> None:
    """Hole 3 drawn, down to the flat second and back, is one B4; the curve reaches 100 cents over the root (G4)."""
    take = transcribed("deep draw bend", "C", tmp_path, WIDE)
    (note,) = take.notes
    assert (note.midi_note, note.degree, note.hole, note.air) == (71, "3", 3, "draw")
    inside = (take.curve.time_s > note.start_s + 0.1) & (take.curve.time_s < 1.85)
    assert np.min(take.curve.cents[inside]) == pytest.approx(100.0, abs=CURVE_WITHIN_CENTS)


def test_a_bend_deeper_than_the_range_goes_over_to_another_note(tmp_path: Path) -> None:
    """Three semitones down and up do not fit into the usual two: legato, without a gap, and back."""
    take = transcribed("deep draw bend", "C", tmp_path)
    first, *others = take.notes
    assert first.midi_note == 71
    assert others
    for before, after in zip(take.notes, others, strict=False):
        assert after.start_s == pytest.approx(before.end_s, abs=0.0001)
        assert after.midi_note != before.midi_note


def test_the_real_command_writes_the_same_take(tmp_path: Path) -> None:
    """``reedwire transcribe`` in its own process ends with 0, names what it made, and makes exactly its files."""
    here = transcribed("blue thirds", "C", tmp_path, WIDE)
    out = tmp_path / "out"
    said = reedwire("transcribe", tmp_path / "sound.wav", "--out", out, "--harp", "C", "--set", WIDE)
    assert said.status == 0, said.err
    assert said.err == ""
    folder = out / "sound"
    assert {path.name for path in folder.iterdir()} == FILES
    assert "sound.wav" in said.out
    assert str(folder) in said.out
    assert f"{len(here.notes)} notes" in said.out
    for name in FILES - {"take.yaml", "played"}:
        assert (folder / name).read_bytes() == (here.folder / name).read_bytes()
