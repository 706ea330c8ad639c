"""A silent sound card for tests: a jackd of our own, with its own name, ended by its own process id."""

from __future__ import annotations

import os
import signal
import subprocess
import time
import uuid
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from parts import missing, require, running

_READY_WITHIN_S = 10.0
#: Above the engine and its sound card's process, as JACK's default (10) and usual settings (70 and more) are to users.
_PRIORITY = "70"


class JackServer:
    """A jackd with the dummy driver (2 in, 2 out), by a name of its own, that can be stopped, killed and begun again.

    ``env`` is the environment in which clients, PortAudio's and rtmidi's among them, find it and no other.
    """

    def __init__(self, *, rate: int = 48000, period: int = 128, patient: bool = False, urgent: bool = False) -> None:
        self.name = f"reedwire-{uuid.uuid4().hex[:8]}"
        self._command = [require("jackd"), *(("-R", "-P", _PRIORITY) if urgent else ("-r",)), "-m", "-n", self.name]
        self._command += ["-S"] if patient else []
        self._command += ["-d", "dummy", "-r", str(rate), "-p", str(period), "-C", "2", "-P", "2"]
        self._runs = ExitStack()
        self._process: subprocess.Popen[bytes] | None = None
        self.env = {
            **os.environ,
            "JACK_NO_AUDIO_RESERVATION": "1",
            "JACK_NO_START_SERVER": "1",
            "JACK_DEFAULT_SERVER": self.name,
        }

    def start(self) -> None:
        """Start it and wait until it answers; skips the test when it does not."""
        started = running(self._command, env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self._process = self._runs.enter_context(started)
        until = time.monotonic() + _READY_WITHIN_S
        while not _answers(self.name):
            if self._process.poll() is not None or time.monotonic() > until:
                missing("jackd", "it does not start on this machine")
            time.sleep(0.05)

    def send_signal(self, number: signal.Signals) -> None:
        """Stop it in its tracks, let it go on, or kill it."""
        assert self._process is not None
        self._process.send_signal(number)
        if number == signal.SIGKILL:
            self._process.wait(_READY_WITHIN_S)

    def end(self) -> None:
        """End it; one that was killed is begun again first, since only a good end gives its place back.

        JACK has room for eight servers, and one that was killed stays in its list.
        """
        if self._process is not None and self._process.poll() == -signal.SIGKILL:
            self.start()
        self._runs.close()


@contextmanager
def jack_server(
    *, rate: int = 48000, period: int = 128, patient: bool = False, urgent: bool = False
) -> Iterator[dict[str, str]]:
    """A :class:`JackServer` for the length of the ``with`` block.

    A ``patient`` server waits for a client that is late (up to ten periods), so that a busy machine loses no sound. An
    ``urgent`` one, and its clients' callbacks with it, has the real-time priority that a sound server has on stage.
    Yields the environment in which clients find this server and no other; give it to a subprocess. Stop those clients
    before the block ends: PortAudio hangs when its server dies. Skips the test when jackd is missing or does not start.
    """
    with server_to_break(rate=rate, period=period, patient=patient, urgent=urgent) as server:
        yield server.env


@contextmanager
def server_to_break(
    *, rate: int = 48000, period: int = 128, patient: bool = False, urgent: bool = False
) -> Iterator[JackServer]:
    """The same, and the server itself, for a test that does it harm."""
    server = JackServer(rate=rate, period=period, patient=patient, urgent=urgent)
    try:
        server.start()
        yield server
    finally:
        server.end()


def _answers(name: str) -> bool:
    """Whether a client can connect."""
    require("jack")
    import jack

    jack.set_error_function(lambda _message: None)
    jack.set_info_function(lambda _message: None)
    try:
        jack.Client("asking", no_start_server=True, servername=name).close()
    except jack.JackOpenError:
        return False
    return True
