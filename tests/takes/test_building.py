"""Takes that are made out of sight: there as a whole or not at all."""

from __future__ import annotations

import errno
import re
from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.takes.building import HIDDEN, built_aside, clear_stopped


def names(folder: Path) -> list[str]:
    """What stands in a folder, hidden or not."""
    return sorted(path.name for path in folder.iterdir())


def test_a_take_is_seen_once_it_is_whole(tmp_path: Path) -> None:
    """Until then nothing of its name is there; then it is, and the hidden folder is gone."""
    with built_aside(tmp_path / "new", "solo") as building:
        (building.folder.path / "take.yaml").write_text("format: 1\n")
        (only,) = names(tmp_path / "new")
        assert only.startswith(HIDDEN)
        assert building.folder.path.name == "solo"
        place = building.put_in_place()
    assert place.path == tmp_path / "new" / "solo"
    assert names(tmp_path / "new") == ["solo"]
    assert names(place.path) == ["take.yaml"]


def test_a_name_that_is_taken_gets_a_number(tmp_path: Path) -> None:
    """Also when it was taken meanwhile; what was there is never touched."""
    (tmp_path / "solo").mkdir()
    (tmp_path / "solo" / "mine").write_text("")
    with built_aside(tmp_path, "solo") as building:
        assert building.folder.path.name == "solo-2"
        (tmp_path / "solo-2").mkdir()
        place = building.put_in_place()
    assert place.path == tmp_path / "solo-3"
    assert names(tmp_path / "solo") == ["mine"]


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_what_is_not_brought_to_its_end_leaves_nothing(tmp_path: Path, error: BaseException) -> None:
    """Whatever ended it."""

    def interrupted() -> None:
        with built_aside(tmp_path, "solo") as building:
            (building.folder.path / "take.yaml").write_text("format: 1\n")
            raise error

    with pytest.raises(type(error)):
        interrupted()
    assert names(tmp_path) == []


def test_an_error_names_the_place_that_the_take_was_to_have(tmp_path: Path) -> None:
    """Not the hidden folder, which nobody has ever seen and which is gone."""

    def refused(told: str) -> None:
        with built_aside(tmp_path, "solo") as building:
            raise UserError(told.format(building.folder.path))

    with pytest.raises(UserError, match=f"^{re.escape(str(tmp_path))}/solo/notes.csv cannot"):
        refused("{}/notes.csv cannot be written.")
    with pytest.raises(UserError, match=r"^Give it another harp"):
        refused("Give it another harp.")


def test_only_what_nobody_is_at_work_on_is_cleared(tmp_path: Path) -> None:
    """What a kill has left goes, what is being made stays, and so does anything else."""
    left = tmp_path / f"{HIDDEN}left" / "solo"
    left.mkdir(parents=True)
    (left / "take.yaml").write_text("format: 1\n")
    (tmp_path / "solo").mkdir()
    told: list[str] = []
    with built_aside(tmp_path, "other") as building:
        clear_stopped(tmp_path, told.append)
        assert len(told) == 1
        assert not left.exists()
        assert building.folder.path.exists()
        clear_stopped(tmp_path, pytest.fail)
    assert names(tmp_path) == ["solo"]


def test_where_no_take_was_ever_made_there_is_nothing_to_clear(tmp_path: Path) -> None:
    """The folder is not made for it."""
    clear_stopped(tmp_path / "new", pytest.fail)
    assert names(tmp_path) == []


def test_a_file_system_without_locks_does_without(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Takes are made there all the same, and what may be somebody's work is never taken away."""

    def unknown(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr("fcntl.flock", unknown)
    with built_aside(tmp_path, "solo") as building:
        clear_stopped(tmp_path, pytest.fail)
        building.put_in_place()
    assert names(tmp_path) == ["solo"]


def test_no_name_of_a_folder_is_refused(tmp_path: Path) -> None:
    """Before anything is made."""
    with pytest.raises(UserError, match="cannot name a take"), built_aside(tmp_path / "new", "a/b"):
        pass
    assert names(tmp_path) == []
