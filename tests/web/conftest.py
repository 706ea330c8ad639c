"""Boards for the tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from web.board_room import TOKENS, Room, room


@pytest.fixture
def board(tmp_path: Path) -> Iterator[Room]:
    """A board for this machine alone."""
    with room(tmp_path) as served:
        yield served


@pytest.fixture
def open_board(tmp_path: Path) -> Iterator[Room]:
    """A board with tokens, as with --lan."""
    with room(tmp_path, tokens=TOKENS) as served:
        yield served
