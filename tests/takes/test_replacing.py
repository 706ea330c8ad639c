"""Files replaced all at once, the versions before kept."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.base.errors import UserError
from bridge.takes.folder import TakeFolder
from bridge.takes.replacing import stage_for


def names(folder: Path) -> set[str]:
    """Every file below a folder."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_new_ones_take_their_place_and_old_ones_are_kept(tmp_path: Path) -> None:
    """What is new is made, what changed is kept and replaced, what is the same is left alone."""
    for name, text in (("same", "1"), ("changed", "old"), ("other", "2")):
        (tmp_path / name).write_text(text)
    untouched = (tmp_path / "same").stat().st_mtime_ns
    with stage_for(TakeFolder(tmp_path)) as stage:
        for name, text in (("same", "1"), ("changed", "new"), ("made", "3")):
            (stage.path / name).write_text(text)
        stage.put_in_place()
    assert stage.changed == ("changed", "made")
    assert stage.before == tmp_path / "before" / "1"
    assert names(tmp_path) == {"same", "changed", "other", "made", "before/1/changed"}
    assert (tmp_path / "changed").read_text() == "new"
    assert (tmp_path / "before" / "1" / "changed").read_text() == "old"
    assert (tmp_path / "same").stat().st_mtime_ns == untouched


def test_what_is_left_before_the_end_changes_nothing(tmp_path: Path) -> None:
    """Ctrl-C while the new ones are made: all is as it was, and no stage is left."""
    (tmp_path / "kept").write_text("old")

    def interrupted() -> None:
        with stage_for(TakeFolder(tmp_path)) as stage:
            (stage.path / "kept").write_text("new")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert [path.name for path in tmp_path.iterdir()] == ["kept"]
    assert (tmp_path / "kept").read_text() == "old"


def test_a_folder_that_is_taken_is_passed_over(tmp_path: Path) -> None:
    """Whoever has thrown away some of ``before``, or put things there, loses nothing."""
    (tmp_path / "before" / "1").mkdir(parents=True)
    (tmp_path / "file").write_text("old")
    with stage_for(TakeFolder(tmp_path)) as stage:
        (stage.path / "file").write_text("new")
        stage.put_in_place()
    assert stage.before == tmp_path / "before" / "2"


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    """In words, and with what to do."""
    with pytest.raises(UserError, match=r"cannot be written .No such file"), stage_for(TakeFolder(tmp_path / "gone")):
        pytest.fail("there is no folder to make anything in")
