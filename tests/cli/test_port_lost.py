"""``sweep``, the bend test of ``check`` and ``panic`` with a MIDI port that goes away: none hangs, or claims success.

Real parts: jackd and rtmidi. Source of the bytes: MIDI 1.0, 4.2.1.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

import pytest

from jack_server import JackServer, server_to_break
from parts import running
from send.test_port_back import Talking, talking

#: Far more than a look that nobody answers takes, since a loaded machine may be slow.
PATIENCE_S = 60.0
REEDWIRE = (sys.executable, "-m", "bridge.cli.main")
BEND_TEST = """
from bridge.cli.check_synth import Synth
from bridge.wiring.settings import load_settings

synth = Synth(load_settings(sets=["send.midi.port=ear:in"]).send.midi)
with synth:
    print("Done" if synth.test(asked=True) else synth.why_not, flush=True)
print("failed" if synth.failed else "Done: heard")
"""
EACH = ("sweep", "bend test", "panic")
#: Each command and a message that it sends early, but not first: a busy machine may lose what comes at once.
COMMANDS = {
    "sweep": ((*REEDWIRE, "sweep", "bend", "--midi", "ear:in", "--osc", "none"), " E0 "),
    "bend test": ((sys.executable, "-c", BEND_TEST), "90 3D"),
    "panic of all": ((*REEDWIRE, "panic"), "83 7F 40"),
    "panic": ((*REEDWIRE, "panic", "--midi", "ear:in"), "83 7F 40"),
}
UNKNOWN = {"sweep": "is not known", "bend test": "may sound on", "panic": "may sound on"}


@dataclass(frozen=True)
class Room:
    """A command that sends MIDI, who hears it, and the server between them."""

    server: JackServer
    ear: Talking
    process: subprocess.Popen[str]

    def ended(self) -> tuple[int, str]:
        """The command's status and all that it has said, once it has ended by itself."""
        said, _ = self.process.communicate(timeout=PATIENCE_S)
        return self.process.returncode, said


@contextmanager
def begun(name: str, *more: str, others: Sequence[str] = ()) -> Iterator[Room]:
    """That command with ``more`` words, once the first of it was heard; ``others`` could hear it too."""
    command, first = COMMANDS[name]
    pipe = subprocess.PIPE
    with server_to_break(period=1024) as server, ExitStack() as ears:
        try:
            ear, *_ = [ears.enter_context(talking(server.env, "send.jack_ear", each)) for each in ("ear", *others)]
            options = {"env": server.env, "stdin": subprocess.DEVNULL, "stdout": pipe, "stderr": subprocess.STDOUT}
            with running((*command, *more), **options, text=True) as process:
                ear.wait_for(first)
                yield Room(server, ear, process)
        finally:
            # Nobody who still hangs on it may hold up the rest.
            server.send_signal(signal.SIGKILL)


@pytest.mark.parametrize("name", EACH)
def test_a_server_that_was_killed_ends_it_with_the_truth(name: str) -> None:
    """Nobody says that every note is off; not status 0."""
    with begun(name) as room:
        room.server.send_signal(signal.SIGKILL)
        status, said = room.ended()
    assert "Traceback" not in said
    assert UNKNOWN[name] in said
    assert "Done" not in said
    assert "quiet" not in said
    assert "Server is not running" not in said
    # The bend test here is no command; panic has only one port, and that one failed.
    assert status == {"sweep": 1, "bend test": 0, "panic": 2}[name]


@pytest.mark.parametrize("name", EACH)
def test_ctrl_c_ends_it_although_the_server_has_stopped(name: str) -> None:
    """Ctrl-C is heard, and what is waited for has an end."""
    with begun(name) as room:
        room.server.send_signal(signal.SIGSTOP)
        room.process.send_signal(signal.SIGINT)
        status, said = room.ended()
    assert UNKNOWN[name] in said or (name == "panic" and "stopped" in said)
    assert "Done" not in said
    assert "quiet" not in said
    assert status != 0


def test_a_receiver_that_is_unplugged_ends_the_sweep() -> None:
    """Before its time, which is a thousand rounds: nobody can learn from it any more."""
    with begun("sweep", "--times", "1000") as room:
        room.ear.process.kill()
        status, said = room.ended()
    assert status == 1
    assert "went away" in said


def test_panic_tries_no_other_port_of_a_system_that_has_stopped() -> None:
    """It ends by itself, and names what it has not silenced."""
    with begun("panic of all", others=("other",)) as room:
        room.server.send_signal(signal.SIGSTOP)
        status, said = room.ended()
    assert status == 2
    assert "quiet" not in said
    assert "nothing was sent to 'other:in'" in said
