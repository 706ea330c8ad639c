"""Notes that were added to a take with sound: it is said which of them stay silent."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.takes.inflections import inflections_csv
from bridge.takes.notes import notes_csv
from bridge.wiring.rebuilding import rebuild_take
from wiring.made_takes import PHRASE, make_take


@pytest.mark.parametrize(
    ("added", "named"),
    [
        ([5], "note 5."),
        ([5, 6], "notes 5, 6."),
        (range(5, 15), "notes 5, 6, 7, 8, 9, 10, 11, 12 and 2 more."),
    ],
)
def test_it_is_told_which_notes_have_no_sound(tmp_path: Path, added: Sequence[int], named: str) -> None:
    """One is a note, two are notes, and of many the first are named."""
    take = make_take(tmp_path / "phrase").folder
    take.played.path.mkdir()
    for name in ("notes.csv", "inflections.csv"):
        shutil.copy(take.path / name, take.played.path / name)
    notes = [*PHRASE, *(replace(PHRASE[0], id=number, start_s=float(number), length_s=0.2) for number in added)]
    take.notes.write_text(notes_csv(notes), encoding="utf-8")
    take.inflections.write_text(inflections_csv(notes), encoding="utf-8")
    told: list[str] = []
    rebuild_take(take.path, told.append)
    assert told == [f"resung.wav: there is no sound of what was added, so it is silent there: {named}"]
