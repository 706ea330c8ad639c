"""``reedwire demo --fast`` in a process of its own: how it ends, and the take it leaves against what was played.

The truth is the synthetic player's own: every sample of its pitch is known before anything is followed.
"""

from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pytest
import soundfile

from bridge.capture.player import Performance, PlayedNote
from bridge.capture.rehearsal import demo_performance
from bridge.harp.harp import make_harp
from demo_run import OUT, Demo
from main_job.expected import CURVE_WITHIN_CENTS, START_WITHIN_S, slot
from main_job.take_files import Curve, Note, read_curve, read_notes

FILES = {
    "take.yaml",
    "curve.csv",
    "notes.csv",
    "inflections.csv",
    "played",
    "tab.txt",
    "performance.mid",
    "score.musicxml",
    "journal.jsonl",
    "sound.wav",
}
#: The bend range unless something else is said, either way.
RANGE_CENTS = 200.0
#: G4, the root of a C harp in cross position (common practice, no source), and its frequency (MIDI 1.0, 4.2.1).
ROOT_MIDI = 67
ROOT_HZ = 440.0 * 2.0 ** ((ROOT_MIDI - 69) / 12)


@pytest.fixture(scope="module")
def notes(demo: Demo) -> list[Note]:
    """The rows of its notes.csv."""
    return read_notes(demo.take)


@pytest.fixture(scope="module")
def curve(demo: Demo) -> Curve:
    """Its curve.csv."""
    return read_curve(demo.take)


@pytest.fixture(scope="module")
def played() -> Performance:
    """What the player plays on a C harp in cross position."""
    harp = make_harp("C", 2, 440.0)
    return demo_performance(harp.root_hz, [reed.hz for reed in harp.reeds])


def begins_in(note: PlayedNote, played: Performance) -> set[int]:
    """MIDI notes of the slots that the note goes through in its first tenth of a second: one, unless it is scooped."""
    begins = slice(round(note.start_s * played.rate), round((note.start_s + 0.1) * played.rate), 48)
    return {ROOT_MIDI + slot(cents)[0] for cents in 1200.0 * np.log2(played.f0_hz[begins] / ROOT_HZ)}


def dwells_in(note: PlayedNote, played: Performance) -> str:
    """The degree in which the note is longest."""
    inside = played.f0_hz[round(note.start_s * played.rate) : round(note.end_s * played.rate) : 48]
    degrees = [slot(cents)[1] for cents in 1200.0 * np.log2(inside / ROOT_HZ)]
    return max(dict.fromkeys(degrees), key=degrees.count)


def test_the_demo_ends_well(demo: Demo, notes: list[Note]) -> None:
    """No error, no warning, no leak of shared memory; it says where the take lies and what to try next."""
    assert demo.said.accidents == []
    assert demo.said.err == ""
    assert str(OUT / demo.take.name) in demo.said.out
    assert "reedwire play" in demo.said.out
    assert f"{len(notes)} notes" in demo.said.out


def test_the_demo_leaves_a_whole_take(demo: Demo, played: Performance) -> None:
    """All its files, and the sound is what was played, in 24 bits."""
    assert {path.name for path in demo.take.iterdir()} == FILES
    samples, rate = soundfile.read(demo.take / "sound.wav", dtype="float64")
    assert rate == played.rate
    np.testing.assert_allclose(samples, played.samples.astype(np.float64), rtol=0.0, atol=2.0**-22)


def test_the_journal_and_the_table_tell_of_the_same_notes(demo: Demo, notes: list[Note]) -> None:
    """Every on in the journal has one off, and the rows of notes.csv are these notes."""
    lines = [json.loads(line) for line in (demo.take / "journal.jsonl").read_text(encoding="utf-8").splitlines()]
    ons = [line for line in lines if line["is"] == "on"]
    offs = [line["note_id"] for line in lines if line["is"] == "off"]
    assert [on["note_id"] for on in ons] == offs == [note.id for note in notes]
    assert [on["midi_note"] for on in ons] == [note.midi_note for note in notes]
    assert [on["time_s"] for on in ons] == pytest.approx([note.start_s for note in notes], abs=1e-5)


def test_the_table_is_what_was_played(notes: list[Note], played: Performance) -> None:
    """Each played note is one row, from its start to its end within 30 ms, with its number and degree; none is extra.

    Only a glide as wide as the bend range, two semitones, may go over to a second row, legato.
    """
    left = list(notes)
    for note in played.notes:
        rows = [row for row in left if note.start_s - START_WITHIN_S < row.start_s < note.end_s]
        assert rows
        left = [row for row in left if row not in rows]
        assert rows[0].start_s == pytest.approx(note.start_s, abs=START_WITHIN_S)
        assert rows[-1].end_s == pytest.approx(note.end_s, abs=START_WITHIN_S)
        assert rows[0].midi_note in begins_in(note, played)
        cents = [point for _, point in note.glide] or [0.0]
        if max(cents) - min(cents) < RANGE_CENTS:
            assert len(rows) == 1
            assert rows[0].degree == dwells_in(note, played)
        for before, after in pairwise(rows):
            assert after.start_s == pytest.approx(before.end_s, abs=1e-4)
    assert left == []


def test_the_curve_is_what_was_played(curve: Curve, played: Performance) -> None:
    """From 40 ms on each note's pitch is there all the time, 95 of 100 rows within 10 cents of the exact pitch."""
    for note in played.notes:
        inside = (curve.time_s > note.start_s + 0.04) & (curve.time_s < note.end_s - 0.02)
        hz = curve.hz[inside]
        exact = played.f0_hz[np.round(curve.time_s[inside] * played.rate).astype(int)]
        assert len(hz) > 10
        assert np.mean(hz > 0.0) > 0.98
        assert np.percentile(1200.0 * np.abs(np.log2(hz[hz > 0.0] / exact[hz > 0.0])), 95) <= CURVE_WITHIN_CENTS


def test_where_nobody_plays_the_curve_is_silent(curve: Curve, played: Performance) -> None:
    """Between the notes, breath through the harp included, no pitch is told."""
    gaps = np.round(curve.time_s * played.rate).astype(int).clip(0, len(played.f0_hz) - 1)
    # Some frames look back into a note that has just ended.
    quiet = np.convolve(played.f0_hz[gaps] > 0.0, np.ones(15), mode="same") == 0
    assert np.count_nonzero(quiet) > 100
    assert np.mean(curve.hz[quiet] > 0.0) < 0.01
