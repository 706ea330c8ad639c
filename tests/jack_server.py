"""A silent sound card for tests: a jackd of our own, with its own name, ended by its own process id."""

from __future__ import annotations

import os
import subprocess
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from parts import missing, require, running

_READY_WITHIN_S = 10.0


@contextmanager
def jack_server(*, rate: int = 48000, period: int = 128, patient: bool = False) -> Iterator[dict[str, str]]:
    """A jackd with the dummy driver (2 in, 2 out) for the length of the ``with`` block.

    A ``patient`` server waits for a client that is late (up to ten periods), so that a busy machine loses no sound.
    Yields the environment in which clients, PortAudio's and rtmidi's among them, find this server and no other; give
    it to a subprocess. Stop those clients before the block ends: PortAudio hangs when its server dies. Skips the test
    when jackd is missing or does not start.
    """
    command = [require("jackd"), "-r", "-n", name := f"reedwire-{uuid.uuid4().hex[:8]}"]
    command += ["-S"] if patient else []
    command += ["-d", "dummy", "-r", str(rate), "-p", str(period), "-C", "2", "-P", "2"]
    env = {
        **os.environ,
        "JACK_NO_AUDIO_RESERVATION": "1",
        "JACK_NO_START_SERVER": "1",
        "JACK_DEFAULT_SERVER": name,
    }
    with running(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        until = time.monotonic() + _READY_WITHIN_S
        while not _answers(name):
            if server.poll() is not None or time.monotonic() > until:
                missing("jackd", "it does not start on this machine")
            time.sleep(0.05)
        yield env


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
