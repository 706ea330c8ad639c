"""Recordings and folders that cannot be used, through the real command: one plain message, nothing lost."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from main_job.bad_files import (
    BAD_FILES,
    cut_flac,
    cut_wav,
    empty,
    missing,
    one_complaint,
    silent,
    text,
    write_tone,
    written,
)
from main_job.command import reedwire
from main_job.take_files import read_notes


@pytest.mark.parametrize(("make", "words"), BAD_FILES, ids=[make.__name__ for make, _ in BAD_FILES])
def test_a_bad_file_gets_one_plain_message(make: Callable[[Path], Path], words: str, tmp_path: Path) -> None:
    """It says which file and what is wrong, ends with a piece of advice, status 2, and leaves no folder behind."""
    path, out = make(tmp_path), tmp_path / "out"
    said = reedwire("transcribe", path, "--out", out)
    assert said.status == 2
    one_complaint(said, re.escape(str(path)), words, r"\. [A-Z].+\.?$")
    assert said.out == ""
    assert written(out) == []


@pytest.mark.parametrize("make", [cut_wav, cut_flac])
def test_of_a_file_that_was_cut_short_the_beginning_is_kept(make: Callable[[Path], Path], tmp_path: Path) -> None:
    """The message says that it is cut short and where the notes before that lie; status 2."""
    path, out = make(tmp_path), tmp_path / "out"
    said = reedwire("transcribe", path, "--out", out)
    assert said.status == 2
    one_complaint(said, re.escape(str(path)), "cut short|damaged", re.escape(str(out / "cut")))
    assert [(note.midi_note, note.degree) for note in read_notes(out / "cut")] == [(71, "3")]  # B4 over G


def test_one_bad_file_does_not_stop_the_others(tmp_path: Path) -> None:
    """Of three files the two good ones become takes; the status is 1 and the bad one is named."""
    first, last = write_tone(tmp_path / "first.wav"), write_tone(tmp_path / "last.flac")
    bad, out = text(tmp_path), tmp_path / "out"
    said = reedwire("transcribe", first, bad, last, "--out", out)
    assert said.status == 1
    assert said.accidents == []
    (complaint,) = said.complaints
    assert str(bad) in complaint
    assert "1 of 3" in said.err
    assert sorted(path.name for path in out.iterdir()) == ["first", "last"]
    for take in ("first", "last"):
        assert [(note.midi_note, note.degree) for note in read_notes(out / take)] == [(71, "3")]  # B4 over G


def test_every_bad_file_of_many_is_told(tmp_path: Path) -> None:
    """When none can be used each has its message and the status is 2."""
    said = reedwire("transcribe", missing(tmp_path), empty(tmp_path), silent(tmp_path), "--out", tmp_path / "out")
    assert said.status == 2
    assert said.accidents == []
    assert len(said.complaints) == 3
    for line, name in zip(said.complaints, ("missing.wav", "empty.wav", "silent.wav"), strict=True):
        assert name in line


def test_a_take_that_is_there_is_never_touched(tmp_path: Path) -> None:
    """The second transcription of a file goes into a folder beside the first, which keeps every byte."""
    sound, out = write_tone(tmp_path / "solo.wav"), tmp_path / "out"
    assert reedwire("transcribe", sound, "--out", out).status == 0
    before = {path: path.read_bytes() for path in (out / "solo").rglob("*.*")}
    said = reedwire("transcribe", sound, "--out", out)
    assert said.status == 0
    assert {path: path.read_bytes() for path in (out / "solo").rglob("*.*")} == before
    (other,) = (path for path in out.iterdir() if path.name != "solo")
    assert str(other) in said.out
    assert {path.relative_to(out / "solo") for path in before} == {
        path.relative_to(other) for path in other.rglob("*.*")
    }


def test_two_files_of_one_name_become_two_takes(tmp_path: Path) -> None:
    """``solo.wav`` and ``solo.flac`` in one command do not share a folder."""
    sounds = write_tone(tmp_path / "solo.wav"), write_tone(tmp_path / "solo.flac")
    out = tmp_path / "out"
    assert reedwire("transcribe", *sounds, "--out", out).status == 0
    assert [len(read_notes(take)) for take in out.iterdir()] == [1, 1]


@pytest.mark.parametrize("command", [("transcribe", "solo.wav"), ("demo", "--fast")], ids=["transcribe", "demo"])
def test_a_folder_that_cannot_be_made_is_told(command: tuple[str, ...], tmp_path: Path) -> None:
    """``--out`` below a file cannot be a folder, not even for root: the message names what is in the way."""
    write_tone(tmp_path / "solo.wav")
    out = tmp_path / "solo.wav" / "takes"
    said = reedwire(*command, "--out", out, cwd=tmp_path)
    assert said.status == 2
    one_complaint(said, re.escape(str(out.parent)), "a file, not a folder", "[Cc]hoose another folder")


#: Becomes the command that follows, with a limit on what it may write.
FULL_DISK = """
import os, resource, sys
os.environ["REEDWIRE_LOG"] = "none"
resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
os.execv(sys.argv[1], sys.argv[1:])
"""


def test_a_disk_that_takes_no_more_is_told(tmp_path: Path) -> None:
    """When nothing can be written (a limit of 0 bytes, which holds for root too) the message says so; nothing stays."""
    sound, out = write_tone(tmp_path / "solo.wav"), tmp_path / "out"
    out.mkdir()
    said = reedwire("transcribe", sound, "--out", out, through=(sys.executable, "-c", FULL_DISK))
    assert said.status == 2
    one_complaint(said, re.escape(str(out)), "[Cc]hoose another folder")
    assert written(out) == []
