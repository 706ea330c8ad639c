"""Who looks for MIDI ports: a process that answers, heeds no Ctrl-C and never outlives the program."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from bridge.send.port_looker import Seen, read_seen, write_seen
from bridge.send.port_watch import PortWatch
from parts import running

_WITHIN_S = 20.0
_NAMES = st.dictionaries(st.text(max_size=8), st.lists(st.text(max_size=12), max_size=3).map(tuple), max_size=3)

#: Watches a MIDI system that there is not, until it is killed.
WATCHING = """
import time
from bridge.send.port_watch import PortWatch

watch = PortWatch()
watch.open("no such system")
while watch.seen is None:
    time.sleep(0.01)
print("seen", flush=True)
time.sleep(60)
"""


def wait_until(holds: Callable[[], bool]) -> None:
    """Wait until it holds; a failure when that takes far too long."""
    until = time.monotonic() + _WITHIN_S
    while not holds():
        assert time.monotonic() < until
        time.sleep(0.02)


def lookers(parent: int) -> list[int]:
    """The processes that look for this one, and still run (Linux: proc(5))."""
    found = (file.read_text().split() for file in Path(f"/proc/{parent}/task").glob("*/children"))
    return [int(child) for each in found for child in each if b"port_looker" in _command(child)]


def _command(pid: str) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except FileNotFoundError:
        return b""


@given(_NAMES, _NAMES)
def test_what_was_seen_arrives_as_it_was(takes: dict[str, tuple[str, ...]], gives: dict[str, tuple[str, ...]]) -> None:
    """Whatever ports are called: one line, and read back the same."""
    line = write_seen(Seen(takes, gives))
    assert line.count(b"\n") == 1
    assert line.endswith(b"\n")
    assert read_seen(line) == Seen(takes, gives)


def test_a_system_that_is_not_there_is_seen_not_to_answer_and_closing_ends_the_process() -> None:
    """A look is a new object each time; the last port that is closed ends it all, and opening begins again."""
    watch = PortWatch()
    for _ in range(2):
        watch.open("no such system")
        watch.open("neither this")
        wait_until(lambda: watch.seen is not None)
        first = watch.seen
        assert first is not None
        assert not first.answers("no such system")
        assert watch.look_now(_WITHIN_S) is not first
        (looker,) = lookers(os.getpid())
        watch.close("neither this")
        assert lookers(os.getpid()) == [looker]
        watch.close("no such system")
        assert lookers(os.getpid()) == []


def test_another_process_looks_when_one_has_died() -> None:
    """Nothing is told meanwhile, and looking goes on."""
    watch = PortWatch()
    watch.open("no such system")
    wait_until(lambda: watch.seen is not None)
    (looker,) = lookers(os.getpid())
    os.kill(looker, signal.SIGKILL)
    wait_until(lambda: looker not in lookers(os.getpid()) and len(lookers(os.getpid())) == 1)
    last = watch.seen
    wait_until(lambda: watch.seen is not last)
    watch.close("no such system")


def test_it_heeds_no_signal_and_ends_with_a_program_that_is_killed() -> None:
    """Signals that end or pause are for the program to hear; a kill it cannot hear, but its process sees that."""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with running([sys.executable, "-c", WATCHING], env=env, stdout=subprocess.PIPE) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == b"seen\n"
        (looker,) = lookers(program.pid)
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT, signal.SIGTSTP):
            os.kill(looker, number)
        time.sleep(0.5)
        assert lookers(program.pid) == [looker]
        program.kill()
        program.wait(_WITHIN_S)
        # A process that nobody waits for any more may stay behind as a zombie where this one's init reaps none.
        wait_until(lambda: not _runs(looker))


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False
