"""Live performances that are killed: ``python -m main_job.live_host FOLDER SEED COUNT`` prints what each had sent.

A process that has loaded all libraries forks one performance after the other, so that fifty need no fifty starts of the
whole command. Each is a session of its own, plays the rehearsal in real time through the live path into OSC and a take,
and is killed with all that it has started; what it had sent until then is told as a line of JSON.
"""

from __future__ import annotations

import json
import os
import random
import selectors
import signal
import socket
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from bridge import __version__
from bridge.base.clock import SystemClock
from bridge.send.choose import make_outputs
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.send.port_watch import PortWatch
from bridge.wiring.live import run_live
from bridge.wiring.settings import load_settings
from bridge.wiring.sources import rehearsal_source
from main_job.command import PATIENCE_S
from send.osc_reader import read

#: So many play at once.
AT_ONCE = 6
#: The moments lie in so many seconds of the music, which are some notes with bends.
LONGEST_S = 3.0


@dataclass
class Performance:
    """One that plays: its process, where its messages come, when to kill it after its first sound, and its messages."""

    folder: Path
    process: int
    ear: socket.socket
    moment_s: float
    began_s: float | None = None
    heard: list[tuple[str, list[float | str]]] = field(default_factory=list)

    def hear(self) -> None:
        """Take one message; the first pitch is the beginning."""
        address, _, arguments = read(self.ear.recv(65536))
        if address in {"/reedwire/on", "/reedwire/off", "/reedwire/pitch"}:
            self.began_s = self.began_s or time.monotonic()
            self.heard.append((address, list(arguments)))

    @property
    def is_due(self) -> bool:
        """Whether its moment has come."""
        return self.began_s is not None and time.monotonic() >= self.began_s + self.moment_s


def begin(folder: Path, moment_s: float) -> Performance:
    """Fork a performance that plays into a take in ``folder``."""
    ear = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    ear.bind(("127.0.0.1", 0))
    process = os.fork()
    if process:
        return Performance(folder, process, ear, moment_s)
    try:
        os.setsid()
        play(folder, ear.getsockname()[1])
    finally:
        # Never back into the loop of the one that kills.
        os._exit(1)


def play(folder: Path, port: int) -> None:
    """Be the performance."""
    settings = load_settings(
        flags={"send.osc.to": f"127.0.0.1:{port}", "send.osc.listen": "none", "send.midi.port": "none"}
    )
    pitch = sent_pitch(settings.send, 0.0)
    made = make_outputs(settings.send, pitch=pitch, program_version=__version__, notice=print, watch=PortWatch())
    outputs = Outputs(made, print, pitch)
    run_live(settings, source=rehearsal_source(settings, SystemClock()), outputs=outputs, meter=None, take=folder)


def kill(one: Performance) -> None:
    """Kill all of it, and tell what it had sent."""
    os.killpg(one.process, signal.SIGKILL)
    os.waitpid(one.process, 0)
    one.ear.setblocking(False)
    try:
        while True:
            one.hear()
    except BlockingIOError:
        one.ear.close()
    sys.stdout.write(json.dumps({"folder": str(one.folder), "heard": one.heard}) + "\n")


def main() -> None:
    """Play and kill ``COUNT`` performances at moments drawn by ``SEED``."""
    parent, chance = Path(sys.argv[1]), random.Random(int(sys.argv[2]))
    waiting = [(parent / str(number), chance.uniform(0.0, LONGEST_S)) for number in range(int(sys.argv[3]))]
    playing: list[Performance] = []
    give_up_s = time.monotonic() + 3 * PATIENCE_S
    with selectors.DefaultSelector() as selector:
        try:
            while waiting or playing:
                if time.monotonic() > give_up_s:
                    raise TimeoutError(f"{len(waiting)} have not begun, {len(playing)} were not killed")
                while waiting and len(playing) < AT_ONCE:
                    playing.append(begin(*waiting.pop()))
                    selector.register(playing[-1].ear, selectors.EVENT_READ, playing[-1])
                for key, _ in selector.select(0.005):
                    key.data.hear()
                for one in [one for one in playing if one.is_due]:
                    selector.unregister(one.ear)
                    playing.remove(one)
                    kill(one)
        finally:
            for one in playing:
                os.killpg(one.process, signal.SIGKILL)


if __name__ == "__main__":
    main()
