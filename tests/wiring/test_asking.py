"""Questions beside the sound: answered in another process, which ends with its parent and is never waited for."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from functools import partial
from multiprocessing import active_children
from pathlib import Path

import pytest

from bridge.wiring.asking import Asking, AskingBeside, NotAnsweredError

#: A program that asks something long, says which process answers it, and then waits to be killed.
ASKER = """
import os, time
from functools import partial
from multiprocessing import active_children
from bridge.wiring.asking import AskingBeside
if __name__ == "__main__":
    with AskingBeside() as asking:
        asking.ask(os.getpid)
        while (answer := asking.answer()) is None:
            time.sleep(0.01)
        print(answer, flush=True)
        time.sleep(60)
"""


def _answer(asking: Asking[object]) -> object:
    """The answer, waited for."""
    for _ in range(3000):
        answer = asking.answer()
        if answer is not None:
            return answer
        time.sleep(0.01)
    pytest.fail("it never came")


def test_sound_that_waits_has_its_answer_at_once() -> None:
    """In the same process, once."""
    with Asking[int]() as asking:
        busy = [asking.busy]
        asking.ask(os.getpid)
        busy.append(asking.busy)
        assert asking.answer() == os.getpid()
        busy.append(asking.busy)
        assert asking.answer() is None
    assert busy == [False, True, False]


def test_another_process_answers_and_what_stops_the_program_does_not_stop_it() -> None:
    """One question after the other, also after a Ctrl-C to the whole terminal; a fault is told by its words."""
    with AskingBeside[object]() as asking:
        busy = [asking.busy]
        asking.ask(os.getpid)
        busy.append(asking.busy)
        answerer = _answer(asking)
        busy.append(asking.busy)
        assert busy == [False, True, False]
        assert isinstance(answerer, int)
        assert answerer != os.getpid()
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGTSTP):
            os.kill(answerer, number)
        asking.ask(partial(int, "x"))
        with pytest.raises(NotAnsweredError, match="invalid literal"):
            _answer(asking)
        asking.ask(os.getpid)
        assert _answer(asking) == answerer


def test_leaving_does_not_wait_for_an_answer() -> None:
    """A question that takes an hour is given up, and its process is gone."""
    with AskingBeside[object]() as asking:
        asking.ask(os.getpid)
        _answer(asking)
        asking.ask(partial(time.sleep, 3600.0))
        assert asking.answer() is None
    assert not [child for child in active_children() if child.name == "reedwire-asking"]


def test_an_answerer_that_dies_is_told() -> None:
    """Whoever waits for its answer hears of it, and whoever asks next as well."""
    with AskingBeside[object]() as asking:
        asking.ask(os.getpid)
        answerer = _answer(asking)
        assert isinstance(answerer, int)
        asking.ask(partial(time.sleep, 3600.0))
        os.kill(answerer, signal.SIGKILL)
        with pytest.raises(NotAnsweredError, match="ended early"):
            _answer(asking)
        with pytest.raises(NotAnsweredError, match="ended early"):
            asking.ask(os.getpid)


def test_it_ends_with_its_parent(tmp_path: Path) -> None:
    """A program that is killed leaves no answerer behind."""
    script = tmp_path / "asker.py"
    script.write_text(ASKER, encoding="utf-8")
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True) as asker:
        assert asker.stdout is not None
        answerer = int(asker.stdout.readline())
        asker.kill()
    for _ in range(3000):
        if not _runs(answerer):
            return
        time.sleep(0.01)
    pytest.fail("it still runs")


def _runs(pid: int) -> bool:
    """Whether that process is there and no zombie."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
