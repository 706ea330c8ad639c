"""Tables compared with those that all was last made from."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.takes.folder import TakeFolder
from bridge.takes.inflections import inflections_csv
from bridge.takes.notes import notes_csv
from bridge.takes.rebuilt_tables import are_edited, notes_before
from takes.made_notes import edited

NOTES = [edited(1, 0.0, 1.0, 71), edited(2, 1.5, 0.5, 67, degree="1")]


def tables(path: Path) -> TakeFolder:
    """A folder with the tables of NOTES."""
    path.mkdir()
    folder = TakeFolder(path)
    folder.notes.write_text(notes_csv(NOTES), encoding="utf-8", newline="")
    folder.inflections.write_text(inflections_csv(NOTES), encoding="utf-8", newline="")
    return folder


@pytest.mark.parametrize("name", ["notes.csv", "inflections.csv"])
def test_tables_that_cannot_be_read_are_a_user_error(tmp_path: Path, name: str) -> None:
    """Those before too, which somebody may have locked away or removed: told with the file and what to do."""
    now, before = tables(tmp_path / "now"), tables(tmp_path / "before")
    assert not are_edited(now, before)
    assert notes_before(now, before, NOTES) is NOTES
    (before.path / name).unlink()
    told = rf"before/{name}: it cannot be read \(No such file"
    with pytest.raises(UserError, match=told):
        are_edited(now, before)
    with pytest.raises(UserError, match=told):
        notes_before(now, before, NOTES)
