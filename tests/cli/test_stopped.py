"""Ctrl-C in ``check`` and ``tune``: one plain line and the status that shells expect, 130 (manual of bash: 128 + 2)."""

from __future__ import annotations

import itertools
import math
import os
import pty
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import typer

from bridge.base.clock import WallClock
from bridge.base.events import AudioBlock
from bridge.capture.microphone import Microphone
from bridge.capture.source import Source
from bridge.cli.check import learned_room
from bridge.cli.stopped import told_when_stopped
from bridge.study.straight import Judged
from bridge.study.tuning_lesson import Lesson
from bridge.wiring.settings import Settings, load_settings
from cli.commands import run_here
from study.straight_tones import tone as straight
from wiring.made_takes import make_take

PATIENCE_S = 60.0


def interrupted(*_: object, **__: object) -> None:
    """What hears Ctrl-C."""
    raise KeyboardInterrupt


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (("rebuild", "TAKE"), "bridge.cli.rebuild.rebuild_take"),
        (("edit", "straighten", "TAKE"), "bridge.cli.edit_options.write_edited"),
    ],
    ids=["rebuild", "edit"],
)
def test_ctrl_c_is_told_by_commands_without_words_of_their_own(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    words: tuple[str, ...],
    where: str,
) -> None:
    """One line, and 130, as of those that have some."""
    take = make_take(tmp_path / "phrase").folder.path
    monkeypatch.setattr(where, interrupted)
    status, out, err = run_here(capsys, monkeypatch, *(str(take) if word == "TAKE" else word for word in words))
    assert (status, out, err) == (130, "", "reedwire: stopped.\n")


@pytest.mark.parametrize(
    ("words", "where"),
    [
        (("check", "--file", "a.wav", "--save", "mine.yaml"), "bridge.cli.check.measure_recording"),
        (("check", "--save", "mine.yaml"), "bridge.cli.check.Card"),
        (("tune", "--file", "a.wav"), "bridge.cli.tune.listen"),
        (("tune",), "bridge.cli.tune.Microphone"),
    ],
    ids=["check a recording", "check the room", "tune by a recording", "tune"],
)
def test_ctrl_c_is_one_plain_line(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    tone: Path,
    words: tuple[str, ...],
    where: str,
) -> None:
    """It says that nothing was written, which is so, and ends with 130."""
    monkeypatch.chdir(tmp_path)
    tone.rename("a.wav")
    monkeypatch.setattr(where, interrupted)
    status, _, err = run_here(capsys, monkeypatch, *words)
    assert (status, err) == (130, "Stopped; nothing was written.\n")
    assert [path.name for path in Path().iterdir()] == ["a.wav"]


def test_ctrl_c_while_the_room_is_learned_says_so(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever command learns it: ``play --learn-room`` uses the same."""
    monkeypatch.setattr("bridge.cli.check.learn_room", interrupted)
    settings = load_settings()
    with pytest.raises(typer.Exit) as caught:
        learned_room(settings, Microphone(settings.capture), 5.0)
    assert caught.value.exit_code == 130
    assert capsys.readouterr().err == "Stopped before the room was learned; nothing was written.\n"


class Card(Source):
    """A sound card that only has a name; what is played is told by other ways."""

    live = True
    lost = dropouts = 0

    def __init__(self, _settings: object) -> None:
        self.name, self.rate = "card", 48000

    def open(self) -> None:
        """Nothing to open."""

    def close(self) -> None:
        """Nothing to close."""

    def read(self, timeout_s: float) -> AudioBlock | None:
        """Nothing to hear."""
        raise NotImplementedError


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT])
@pytest.mark.parametrize(
    ("played", "status", "files"),
    [(("draw 2", "draw 3", "draw 4"), 0, ["my-harp.yaml"]), (("draw 2", "draw 3"), 130, [])],
    ids=["all was heard", "one is missing"],
)
def test_who_stops_tuning_keeps_what_is_known(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    number: signal.Signals,
    played: tuple[str, ...],
    status: int,
    files: list[str],
) -> None:
    """Stopped in the rest after all notes it writes the file, as q does; before, it says that nothing was written."""

    def listen(
        _settings: Settings,
        _source: Source,
        lesson: Lesson,
        tell: Callable[[Judged], None],
        _clock: WallClock,
        stopped: Callable[[], bool],
    ) -> None:
        for reed, level_db in itertools.product(played, (-36.0, -22.0)):
            tell(lesson.hear(straight(reed, 0.0, level_db)))
        assert not stopped()
        os.kill(os.getpid(), number)
        assert stopped()

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("bridge.cli.tune.Microphone", Card)
    monkeypatch.setattr("bridge.cli.tune.listen", listen)
    before = signal.getsignal(number)
    ended, out, err = run_here(capsys, monkeypatch, "tune")
    assert ended == status
    assert ("Written to my-harp.yaml" in out) is (status == 0)
    assert err == ("" if status == 0 else "Stopped; nothing was written.\n")
    assert [path.name for path in Path().iterdir()] == files
    assert signal.getsignal(number) == before


@pytest.mark.parametrize("accident", [typer.Exit(3), ValueError("a fault")])
def test_nothing_else_is_taken_for_a_stop(accident: Exception) -> None:
    """Other ends and faults pass as they are."""
    with pytest.raises(type(accident)) as caught, told_when_stopped("Stopped."):
        raise accident
    assert caught.value is accident


def on_terminal(*words: str, cwd: Path, waits_for: bytes, keys: bytes) -> tuple[int, bytes]:
    """``reedwire`` on a terminal of its own; once ``waits_for`` is shown ``keys`` are pressed, each second anew.

    Its exit status, and all that was shown. A Ctrl-C that comes after a question is shown and just before Python waits
    for the answer is only seen with the next key.
    """
    master, slave = pty.openpty()
    command = ["setsid", "--ctty", sys.executable, "-m", "bridge.cli.main", *words]
    process = subprocess.Popen(command, stdin=slave, stdout=slave, stderr=slave, cwd=cwd)
    seen, typed_s, end = b"", -math.inf, time.monotonic() + PATIENCE_S
    try:
        while process.poll() is None or select.select([master], [], [], 0.1)[0]:
            assert time.monotonic() < end, seen
            if select.select([master], [], [], 0.1)[0]:
                seen += os.read(master, 65536)
            if time.monotonic() > typed_s + 1.0 and waits_for in seen and process.poll() is None:
                os.write(master, keys)
                typed_s = time.monotonic()
    finally:
        process.kill()
        process.wait()
        os.close(master)
        os.close(slave)
    return process.returncode, seen


@pytest.mark.parametrize("words", [("check", "--save"), ("tune", "--out")], ids=["check", "tune"])
@pytest.mark.parametrize("keys", [b"\x03", b"\x04"], ids=["ctrl-c", "ctrl-d"])
def test_ctrl_c_at_a_question_is_no_answer(tmp_path: Path, words: tuple[str, str], keys: bytes) -> None:
    """Asked whether to write over a file, it leaves that alone, on a line of its own after the ^C of the terminal."""
    old = tmp_path / "there.yaml"
    old.write_text("key: A\n", encoding="utf-8")
    status, seen = on_terminal(*words, "there.yaml", cwd=tmp_path, waits_for=b"[y/N]", keys=keys)
    assert status == 130
    assert seen.splitlines()[-1] == b"Stopped; nothing was written."
    assert b"Aborted" not in seen
    assert old.read_text(encoding="utf-8") == "key: A\n"
