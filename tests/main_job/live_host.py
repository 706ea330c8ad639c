"""Live performances that are killed: ``python -m main_job.live_host FOLDER SEED COUNT`` prints what each had sent.

A process that has loaded all libraries forks one performance after the other, so that fifty need no fifty starts of the
whole command. Each is a session of its own, plays the tune of the demo in real time through the live path into OSC and
a take, and is killed with all that it has started; what it had sent until then is told as a line of JSON.
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
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from bridge import __version__
from bridge.base.clock import SystemClock
from bridge.capture.source import Source
from bridge.send.choose import make_outputs
from bridge.send.output import Outputs
from bridge.send.pitch import sent_pitch
from bridge.wiring.live import run_live
from bridge.wiring.settings import Settings, load_settings
from bridge.wiring.sources import rehearsal_source
from main_job.command import PATIENCE_S
from main_job.handed import Handed, Watched
from send.osc_reader import read

#: So many play at once: each is two processes that should be heard in time, and a machine may have two cores.
AT_ONCE = 4
RATE = 48000
#: The moments lie in so many seconds of the music, which are some notes with bends.
LONGEST_S = 3.0
#: What had been handed over so long before the kill is due: the bounds of the project's own, in seconds.
SOUND_DUE_S, NOTE_DUE_S = 0.5, 0.1


@dataclass(frozen=True)
class Told:
    """What one performance had done when it was killed.

    ``heard`` are its messages by OSC; ``handed_s`` is how much of the stream the engine had dealt with, in seconds,
    ``sound_due_s`` and ``note_due_s`` how much of it half and a tenth of a second before.
    """

    folder: str
    handed_s: float
    sound_due_s: float
    note_due_s: float
    heard: list[tuple[str, list[Any]]]


@dataclass
class Performance:
    """One that plays: its process, where its messages come, when in the music to kill it, and what is known of it."""

    folder: Path
    process: int
    ear: socket.socket
    moment_s: float
    handed: Handed
    heard: list[tuple[str, list[Any]]] = field(default_factory=list)

    def hear(self) -> None:
        """Take one message."""
        address, _, arguments = read(self.ear.recv(65536))
        if address in {"/reedwire/on", "/reedwire/off"}:
            self.heard.append((address, list(arguments)))

    @property
    def is_due(self) -> bool:
        """Whether its moment has come."""
        return self.handed.until(time.monotonic()) > self.moment_s * RATE


def begin(folder: Path, moment_s: float, source: Source) -> Performance:
    """Fork a performance of ``source`` that plays into a take in ``folder``."""
    ear, handed = socket.socket(socket.AF_INET, socket.SOCK_DGRAM), Handed()
    # Room for more than comes, should this process not get to run for a while.
    ear.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 22)
    ear.bind(("127.0.0.1", 0))
    process = os.fork()
    if process:
        return Performance(folder, process, ear, moment_s, handed)
    try:
        os.setsid()
        play(folder, ear.getsockname()[1], Watched(source, handed))
    finally:
        # Never back into the loop of the one that kills.
        os._exit(1)


def settings_to(port: int) -> Settings:
    """OSC alone, to that port; the sound as fast as it is read."""
    sent = {"send.osc.to": f"127.0.0.1:{port}", "send.osc.listen": "none", "send.midi.port": "none"}
    return load_settings(flags={**sent, "capture.rate_hz": RATE, "capture.paced": False})


def play(folder: Path, port: int, source: Source) -> None:
    """Be the performance."""
    settings = settings_to(port)
    pitch = sent_pitch(settings.send, 0.0)
    outputs = Outputs(make_outputs(settings.send, pitch=pitch, program_version=__version__, notice=say), say, pitch)
    run_live(settings, source=source, outputs=outputs, take=folder, notice=say)


def say(*what: object) -> None:
    """Tell whoever reads how the test went."""
    sys.stderr.write(f"{what}\n")


def kill(one: Performance) -> None:
    """Kill all of it, and tell what it had done."""
    at_s = time.monotonic()
    os.killpg(one.process, signal.SIGKILL)
    os.waitpid(one.process, 0)
    one.ear.setblocking(False)
    try:
        while True:
            one.hear()
    except BlockingIOError:
        one.ear.close()
    handed_s, sound_due_s, note_due_s = (
        one.handed.until(at_s - before_s) / RATE for before_s in (0.0, SOUND_DUE_S, NOTE_DUE_S)
    )
    told = Told(str(one.folder), handed_s, sound_due_s, note_due_s, one.heard)
    sys.stdout.write(json.dumps(asdict(told)) + "\n")
    # What waits here would be told again by each process that is forked from this one.
    sys.stdout.flush()


def main() -> None:
    """Play and kill ``COUNT`` performances at moments drawn by ``SEED``."""
    parent, chance = Path(sys.argv[1]), random.Random(int(sys.argv[2]))
    waiting = [(parent / str(number), chance.uniform(0.0, LONGEST_S)) for number in range(int(sys.argv[3]))]
    playing: list[Performance] = []
    # Played once, and then by all of them.
    source = rehearsal_source(settings_to(9), SystemClock())
    give_up_s = time.monotonic() + 3 * PATIENCE_S
    with selectors.DefaultSelector() as selector:
        try:
            while waiting or playing:
                if time.monotonic() > give_up_s:
                    raise TimeoutError(f"{len(waiting)} have not begun, {len(playing)} were not killed")
                while waiting and len(playing) < AT_ONCE:
                    playing.append(begin(*waiting.pop(), source))
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
