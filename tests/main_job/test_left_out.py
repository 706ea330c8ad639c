"""A recording with talk in it: ``reedwire transcribe`` leaves the talk out and says so, or follows it if told to."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest
import soundfile
import yaml

from cli.commands import started
from sounds.known import KnownSound
from sounds.speech import between_phrases

#: Five seconds before the phrase and as many after it.
_TALK_S = 10.0
_LEFT_OUT = re.compile(r"^  left out: ([\d.]+) to ([\d.]+) s, talk or noise$", re.MULTILINE)


@pytest.fixture
def lesson(tmp_path: Path) -> KnownSound:
    """Recorded speech (Debian's telephone announcements), a phrase of the sampled harmonica, and speech again."""
    sound = between_phrases("C", "English", times=1)
    soundfile.write(tmp_path / "lesson.wav", sound.samples, sound.rate)
    return sound


def transcribed(folder: Path, *words: str) -> tuple[list[tuple[float, float]], list[float], dict[str, object]]:
    """Spans left out as they are told, the beginnings of the notes, and what the take says of itself."""
    run = started("transcribe", "lesson.wav", "--out", "takes", "--harp", "C", *words, cwd=folder)
    assert run.returncode == 0, run.stderr
    take = folder / "takes" / "lesson"
    with (take / "notes.csv").open(newline="", encoding="utf-8") as file:
        begun = [float(row["start_s"]) for row in csv.DictReader(file)]
    told = [(float(start_s), float(end_s)) for start_s, end_s in _LEFT_OUT.findall(run.stdout)]
    return told, begun, yaml.safe_load((take / "take.yaml").read_text())


def test_talk_is_left_out_and_every_note_kept(lesson: KnownSound, tmp_path: Path) -> None:
    """No note begins in the talk and none is missing; nearly all of the talk is told, and nothing of the phrase."""
    told, begun, take = transcribed(tmp_path)
    first, last = lesson.notes[0], lesson.notes[-1]
    for note in lesson.notes:
        assert sum(abs(at_s - note.attack_s) < 0.05 for at_s in begun) == 1
    assert len(begun) == len(lesson.notes)
    assert sum(end_s - start_s for start_s, end_s in told) > 0.9 * _TALK_S
    assert all(end_s <= first.start_s + 0.1 or start_s >= last.end_s - 0.1 for start_s, end_s in told)
    spans = take["left_out"]
    assert isinstance(spans, list)
    assert {span["what"] for span in spans} <= {"voice", "noise"}
    assert sum(span["end_s"] - span["start_s"] for span in spans) > 0.8 * _TALK_S


def test_whatever_has_a_pitch_is_followed_if_told_to(lesson: KnownSound, tmp_path: Path) -> None:
    """With ``--follow any`` the talk becomes notes, the phrase as well, and nothing is said to be left out."""
    told, begun, take = transcribed(tmp_path, "--follow", "any")
    talk_s = lesson.notes[0].start_s
    assert not told
    assert "left_out" not in take
    assert sum(at_s < talk_s for at_s in begun) > 5
    assert sum(any(abs(at_s - note.attack_s) < 0.05 for at_s in begun) for note in lesson.notes) == len(lesson.notes)
