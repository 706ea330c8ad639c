"""A cut of a take in which notes were moved: they sound there as they do in the whole take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bridge.takes.edited import EditedNote
from bridge.takes.inflections import inflections_csv
from bridge.takes.notes import notes_csv
from bridge.wiring.edited_take import write_edited
from bridge.wiring.opening import OpenedTake, opened_take
from bridge.wiring.played_notes import played_notes
from bridge.wiring.rebuilding import rebuild_take
from bridge.wiring.splicing import edit_cut
from takes.made_notes import edited
from wiring.made_takes import RATE, make_take, stored

#: Two notes with rests around them: room to move.
PLAYED = (edited(1, 1.0, 1.0, 71), edited(2, 2.7, 0.6, 67, degree="1"))
#: Away from an edge by this, s, nothing of it is heard: a fade, and what a reed speaks before its note.
EDGE_S = 0.05


def moved_take(path: Path, notes: Sequence[EditedNote]) -> OpenedTake:
    """The take of PLAYED, whose tables were then edited to ``notes``, rebuilt."""
    folder = make_take(path, PLAYED).folder
    folder.played.path.mkdir()
    for tables, kept in ((folder.played, PLAYED), (folder, notes)):
        tables.notes.write_text(notes_csv(kept), encoding="utf-8", newline="")
        tables.inflections.write_text(inflections_csv(kept), encoding="utf-8", newline="")
    rebuild_take(path, pytest.fail)
    return opened_take(path, pytest.fail)


@pytest.mark.parametrize("at_s", [0.4, 1.1, 1.2, 1.5, 2.2, 2.6, 2.85, 3.0])
@pytest.mark.parametrize("by_s", [0.3, -0.3])
def test_a_note_that_was_moved_sounds_in_a_cut_as_in_the_whole(tmp_path: Path, at_s: float, by_s: float) -> None:
    """Wherever it is cut: each note that is left has the samples that the whole take has there."""
    notes = [replace(note, start_s=round(note.start_s + by_s, 5)) for note in PLAYED]
    take = moved_take(tmp_path / "whole", notes)
    whole = stored(take.folder.resung)
    for name, from_s, to_s in (("first", 0.0, at_s), ("second", at_s, 4.0)):
        part = opened_take(write_edited(edit_cut(take, from_s, to_s), tmp_path, name).path, pytest.fail)
        assert part.notes == tuple(_between(take.notes, from_s, to_s))
        heard = stored(part.folder.resung if part.folder.resung.exists() else part.folder.sound)
        assert len(stored(part.folder.sound)) == round((to_s - from_s) * RATE)
        wanted = whole[round(from_s * RATE) : round(to_s * RATE)]
        for note in part.notes:
            inside = slice(round((note.start_s + EDGE_S) * RATE), round((note.end_s - EDGE_S) * RATE))
            assert np.abs(heard[inside] / 2.0**31 - wanted[inside] / 2.0**31).max(initial=0.0) < 1e-4


def test_a_cut_that_parts_no_note_from_its_sound_has_the_samples_as_they_were_played(tmp_path: Path) -> None:
    """In the rest between two notes, each of which was moved by less than that; nothing is said of it."""
    notes = [replace(note, start_s=round(note.start_s + 0.1, 5)) for note in PLAYED]
    take = moved_take(tmp_path / "whole", notes)
    edit = edit_cut(take, 2.5, None)
    assert (edit.placed, edit.told) == (None, ())
    part = opened_take(write_edited(edit, tmp_path, "part").path, pytest.fail)
    np.testing.assert_array_equal(stored(part.folder.sound), stored(take.folder.sound)[round(2.5 * RATE) :])
    assert played_notes(part) == (edited(2, 0.2, 0.6, 67, degree="1"),)


def test_what_a_cut_has_done_to_the_sound_is_told(tmp_path: Path) -> None:
    """Its new place and what was left out; nothing but the files of a take is left of the work."""
    take = moved_take(tmp_path / "whole", [replace(PLAYED[0], start_s=1.3)])
    edit = edit_cut(take, 1.5, None)
    (told,) = edit.told
    assert told.startswith(
        "The cut goes through what was moved or made longer: in the sound of the new take every note"
    )
    part = opened_take(write_edited(edit, tmp_path, "part").path, pytest.fail)
    assert played_notes(part) == part.notes
    assert not stored(part.folder.sound)[round(1.25 * RATE) : round(1.75 * RATE)].any()
    assert sorted(path.name for path in part.folder.path.iterdir() if path.name.startswith(".")) == []


def _between(notes: Sequence[EditedNote], from_s: float, to_s: float) -> list[EditedNote]:
    """The straight notes between two times, counted from the first of them."""
    kept = []
    for note in notes:
        start_s, end_s = max(note.start_s, from_s), min(note.end_s, to_s)
        if start_s < end_s:
            moved = replace(note, start_s=round(start_s - from_s, 5), length_s=round(end_s - start_s, 5))
            kept.append(moved)
    return kept
