"""Rebuilding what is odd: names, times far out, and tables that somebody saves meanwhile."""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
from pathlib import Path

import mido
import pytest

from bridge.base.errors import UserError
from bridge.base.progress import nobody
from bridge.takes.tables import LONGEST_S
from bridge.wiring.midi_making import make_midi
from bridge.wiring.opening import opened_take
from bridge.wiring.rebuilding import rebuild_take
from takes.made_notes import edited
from wiring.made_takes import content, make_take
from wiring.test_rebuilding import DERIVED, edit


def test_a_take_may_be_called_anything_that_a_folder_can(tmp_path: Path) -> None:
    """Control characters, and bytes that are no UTF-8, which Python keeps as lone surrogates (PEP 383)."""
    path = tmp_path / "caf\udce9 \a\U0001f3b5"
    make_take(path, sound_s=None)
    assert set(rebuild_take(path, pytest.fail).changed) == DERIVED
    assert mido.MidiFile(path / "performance.mid", charset="utf-8").tracks[0].name == "caf\ufffd \a\U0001f3b5"


def test_the_latest_note_there_can_be_at_the_quickest_tempo_is_written(tmp_path: Path) -> None:
    """As a point left out while typing makes one: its tick has no more than 32 bits. (Its score has 500,000 bars.)"""
    tempo = {"quarters_per_minute": 400.0, "bar_1_s": 0.0, "quarters_in_bar": 4, "known_from": "option"}
    path = tmp_path / "late"
    make_take(path, [edited(1, LONGEST_S, LONGEST_S, 67)], sound_s=None, tempo=tempo)
    midi = tmp_path / "late.mid"
    make_midi(opened_take(path, pytest.fail), midi, nobody, mpe=False)
    # mido adds up seconds in floats.
    assert mido.MidiFile(midi).length == pytest.approx(2 * LONGEST_S, abs=0.01)


def test_tables_saved_while_files_are_made_are_not_written_over(tmp_path: Path) -> None:
    """A spreadsheet saves a table as the rebuilding is under way: that edit stays, and all else stays as it was."""
    take, notes = tmp_path / "phrase", tmp_path / "phrase" / "notes.csv"
    make_take(take, sound_s=None)
    rebuild_take(take, pytest.fail)
    edit(notes, ",71,", ",72,")
    before = content(take)
    saved: list[bytes] = []

    def save(done: float) -> None:
        if done > 0.3 and not saved:
            edit(notes, ",74,", ",76,")
            saved.append(notes.read_bytes())

    with pytest.raises(UserError, match="saved while it was rebuilt, so nothing was written"):
        rebuild_take(take, pytest.fail, progress=save)
    assert content(take) == before | {"notes.csv": saved[0]}
    rebuild_take(take, pytest.fail)
    assert ",76," in notes.read_text(encoding="utf-8")


_ON_A_FULL_DISK = """
import resource, sys
from pathlib import Path
from bridge.base.errors import UserError
from bridge.wiring.rebuilding import rebuild_take
resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
try:
    rebuild_take(Path(sys.argv[1]), print)
except UserError as error:
    print(error)
"""


def test_a_disk_that_is_full_while_the_sound_is_sung_is_told_of_the_take(tmp_path: Path) -> None:
    """Of the take's own folder, not of one that was for the rebuild alone and is gone; all stays as it was."""
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[1] == resource.RLIM_INFINITY
    take = make_take(tmp_path / "phrase").folder
    assert take.sound.stat().st_size > 50_000
    take.played.path.mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.copy(take.path / name, take.played.path / name)
    edit(take.notes, "71", "72")
    before = content(take.path)
    command = [sys.executable, "-c", _ON_A_FULL_DISK, str(take.path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=100)
    say = f"{take.path} cannot be written (No space left on device). Check its rights and the disk; nothing was lost."
    assert done.stdout.splitlines() == [say]
    assert content(take.path) == before
