"""How late the board is, by its own count: sound comes in, the picture of it is acknowledged.

What a browser adds until it has drawn is measured in Chromium; ``python -m bench.board`` measures all this on a machine
that is left alone, behind a sound card. Here other programs may run: how late they make a process that sleeps is
measured meanwhile, and allowed for at each of the four turns of a moment (engine, board, page, board again).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from main_job.board_run import BoardRun, board_run, lateness, long_sound, look_on, stalling

WANTED_MS = 60.0
LOOK_S = 6.0
TRIES = 3
TURNS = 4


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rehearsals on a C harp."""
    return long_sound(tmp_path_factory.mktemp("sound"))


def _p95_ms(board: BoardRun, readers: int) -> float:
    """The first reader's, and that all of them had the whole of it."""
    seen = look_on(board.port, LOOK_S, readers)
    assert all(reader["closed"] is None for reader in seen)
    assert all(reader["delays"]["count"] > 50.0 * LOOK_S for reader in seen)
    return float(max(reader["delays"]["p95"] for reader in seen))


@pytest.mark.parametrize("readers", [1, 31])
def test_the_sound_is_on_the_pages_within_60_ms(
    sound: Path, tmp_path: Path, readers: int, record_property: Callable[[str, object], None]
) -> None:
    """95 of 100 moments of the sound, on the page that is last of all, alone and among thirty more."""
    for attempt in range(TRIES):
        with board_run(tmp_path / str(attempt), "--file", str(sound), "--harp", "C") as board, lateness() as machine:
            p95_ms = _p95_ms(board, readers)
        allowed_ms = WANTED_MS + TURNS * machine.p95_ms
        record_property(f"p95_ms_{attempt}", p95_ms)
        record_property(f"allowed_ms_{attempt}", allowed_ms)
        if p95_ms <= allowed_ms:
            break
    assert p95_ms <= allowed_ms


def test_a_stall_of_200_ms_is_caught(sound: Path, tmp_path: Path) -> None:
    """The board's process stands still for 200 ms once a second: the same count shows it."""
    with board_run(tmp_path, "--file", str(sound), "--harp", "C") as board, stalling(board.pid()):
        assert _p95_ms(board, 1) > WANTED_MS
