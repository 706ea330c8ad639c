"""A take never vanishes: making one leaves every other as it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.takes.folder import new_take


def test_a_name_that_exists_gets_the_next_number(tmp_path: Path) -> None:
    """The second take is name-2, the third name-3, and the first keeps what it holds."""
    first = new_take(tmp_path / "deep" / "down", "solo")
    first.notes.write_text("kept")
    names = [new_take(first.path.parent, "solo").path.name for _ in range(2)]
    assert names == ["solo-2", "solo-3"]
    assert first.notes.read_text() == "kept"


def test_a_file_of_that_name_is_left_alone(tmp_path: Path) -> None:
    """A file is no reason to fail, nor to replace it."""
    (tmp_path / "solo").write_text("a file")
    assert new_take(tmp_path, "solo").path.name == "solo-2"
    assert (tmp_path / "solo").read_text() == "a file"


@pytest.mark.parametrize("name", ["", ".", "..", "a/b", "/etc"])
def test_a_name_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    """A take lies in the folder that was given."""
    with pytest.raises(UserError, match="plain name"):
        new_take(tmp_path, name)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_an_error_for_the_user(tmp_path: Path) -> None:
    """A file where a folder should be."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(UserError, match=r"taken \(it is a file\)\. Choose another folder\."):
        new_take(tmp_path / "taken", "solo")


def test_the_files_of_a_take_have_their_names(tmp_path: Path) -> None:
    """The names are those of take format 1."""
    take = new_take(tmp_path, "solo")
    files = [take.description, take.curve, take.notes, take.tab, take.midi, take.score, take.journal, take.sound]
    assert [file.name for file in files] == [
        "take.yaml",
        "curve.csv",
        "notes.csv",
        "tab.txt",
        "performance.mid",
        "score.musicxml",
        "journal.jsonl",
        "sound.wav",
    ]
    assert {file.parent for file in files} == {take.path}
