"""A fault in a helper process: the playing goes on, and a bundle is left as of a fault in the engine."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import zipfile
from multiprocessing import get_context
from pathlib import Path

import pytest

from bridge.wiring.helper_faults import fault_kept, faults_told
from bridge.wiring.log_file import Recent
from cli import faulty_helper

OFF = ("--midi", "none", "--osc", "none")
KEPT = ("play", "--input", "{tone}", "--take", "{takes}", *OFF)
SHOWN = ("board", "--file", "{tone}", "--port", "{port}", "--no-browser", "--set", "web.wait_s=0")
PLAYED = "1 note in 1.2 s."


def _run(part: str, state: Path, words: tuple[str, ...]) -> subprocess.CompletedProcess[str]:
    """``reedwire`` where that helper fails; logs and bundles go below ``state``, which also is the home folder."""
    return subprocess.run(
        [sys.executable, faulty_helper.__file__, *words],
        check=False,
        env={**os.environ, faulty_helper.CHOICE: part, "HOME": str(state), "XDG_STATE_HOME": str(state)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.mark.parametrize(
    ("part", "words", "status", "said", "trouble"),
    [
        ("take", KEPT, 1, PLAYED, "its writer had a fault of reedwire itself. Some"),
        ("meter", KEPT, 0, PLAYED, "The meter stopped by a fault of reedwire itself. The playing goes on"),
        ("board", SHOWN, 0, PLAYED, ""),
        ("card", ("play", *OFF), 2, "", "does not answer"),
    ],
    ids=["take", "meter", "board", "card"],
)
def test_a_fault_in_a_helper_leaves_one_bundle(
    tone: Path, tmp_path: Path, part: str, words: tuple[str, ...], status: int, said: str, trouble: str
) -> None:
    """It holds the helper's traceback, the versions and the session's log; no traceback is on the screen.

    What can be played is played to its end; the bundle is told there. Status as without a bundle: a take that is not
    whole fails, and so does a start without sound.
    """
    state = tmp_path / "state"
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    run = _run(part, state, tuple(word.format(tone=tone, takes=tmp_path / "takes", port=port) for word in words))
    assert run.returncode == status, run.stderr
    assert said in run.stdout
    assert trouble in run.stderr
    assert "Traceback" not in run.stdout + run.stderr
    (bundle,) = (state / "reedwire").glob("crash-*.zip")
    assert f"-{part}-of-" in bundle.name
    assert f"reedwire: What is known of it lies in ~/reedwire/{bundle.name}\n" in run.stderr
    with zipfile.ZipFile(bundle) as opened:
        parts = {name: opened.read(name).decode() for name in opened.namelist()}
    assert set(parts) == {"error.txt", "versions.txt", "session.txt"}
    assert "in by_hand" in parts["error.txt"]
    assert parts["error.txt"].endswith("ZeroDivisionError: by hand\n")
    assert f"asked: {words[0]}" in parts["session.txt"]
    assert f"a helper had a fault: {bundle.name}" in (state / "reedwire" / "log").read_text()


def test_where_no_bundle_can_be_written_the_traceback_is_on_the_screen(tone: Path, tmp_path: Path) -> None:
    """A file lies where the folder should be: what is known is not lost, and the playing goes on all the same."""
    (tmp_path / "state").mkdir()
    (tmp_path / "state" / "reedwire").write_text("in the way")
    run = _run("meter", tmp_path / "state", ("play", "--input", str(tone), *OFF))
    assert (run.returncode, PLAYED in run.stdout) == (0, True)
    assert "ZeroDivisionError: by hand" in run.stderr
    assert "What is known of it" not in run.stderr


def _fail() -> None:
    """Be a helper with a fault."""
    with fault_kept("board"):
        faulty_helper.by_hand()


def test_one_that_fails_again_and_again_leaves_the_first(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A board is started anew each time: the disk must not fill up with the same."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    left = []
    for _ in range(2):
        helper = get_context("spawn").Process(target=_fail)
        helper.start()
        helper.join(60.0)
        # EX_SOFTWARE of BSD's sysexits.h.
        assert helper.exitcode == 70
        (bundle,) = tmp_path.glob("reedwire/crash-*-board-of-*.zip")
        left.append((bundle.name, bundle.stat().st_mtime_ns))
    assert left[0] == left[1]


def test_what_an_earlier_process_of_the_same_number_left_hides_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Numbers come again, in a container with each start: the old bundle stays as it was, the new one is told."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    folder = tmp_path / "reedwire"
    folder.mkdir()
    (folder / f"crash-2020-01-01-000000-board-of-{os.getpid()}.zip").write_bytes(b"old")
    told: list[str] = []
    with faults_told(Recent(), told.append):
        helper = get_context("spawn").Process(target=_fail)
        helper.start()
        helper.join(60.0)
    old, new = sorted(folder.iterdir())
    assert old.read_bytes() == b"old"
    assert zipfile.ZipFile(new).namelist() == ["error.txt", "versions.txt", "session.txt"]
    assert [new.name in line for line in told] == [False, True, False]


def test_outside_a_helper_a_fault_goes_on() -> None:
    """The engine's own faults are the command line's to keep."""
    with pytest.raises(ZeroDivisionError), fault_kept("meter", lambda: pytest.fail("told")):
        faulty_helper.by_hand()
