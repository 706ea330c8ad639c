"""A take folder is held while it is written, and no longer."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import pytest

from bridge.takes.folder import TakeFolder
from bridge.takes.held import held, is_held


def test_a_folder_is_held_until_it_is_let_go(tmp_path: Path) -> None:
    """Also where what holds it fails."""
    folder = TakeFolder(tmp_path)
    assert not is_held(folder)
    holding = ExitStack()
    holding.enter_context(held(folder))
    assert is_held(folder)
    with pytest.raises(ZeroDivisionError), holding:
        raise ZeroDivisionError
    assert not is_held(folder)


def test_a_folder_that_is_not_there_is_held_by_nobody(tmp_path: Path) -> None:
    """Nor can it be held."""
    folder = TakeFolder(tmp_path / "gone")
    assert not is_held(folder)
    with pytest.raises(FileNotFoundError), held(folder):
        pytest.fail("nothing is there to hold")
