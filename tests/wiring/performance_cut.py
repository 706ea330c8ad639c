"""A performance whose take is written to its end, or whose writer is killed in the midst of it."""

from __future__ import annotations

import os
import signal
import time
from multiprocessing import active_children
from pathlib import Path

from bridge.base.clock import SystemClock
from bridge.base.events import Event, NoteOff
from bridge.takes.folder import new_take
from bridge.wiring.chain import Chain
from bridge.wiring.harps import harp_set
from bridge.wiring.settings import load_settings
from bridge.wiring.sources import rehearsal_source
from bridge.wiring.take_process import TakeProcess, TakeSetup

#: Bar 1 begins with the first note, which is only known at the end.
SETTINGS = load_settings(flags={"harp.key": "A", "capture.paced": False, "takes.tempo": 100})
#: For a writer that runs behind everything else on the machine, seconds.
_PATIENCE_S = 120.0


class Performance:
    """The rehearsal on an A harp, played into a take as fast as it is taken; ``ended`` are its finished notes."""

    def __init__(self, parent: Path) -> None:
        self.folder = new_take(parent, "one")
        self.said: list[str] = []
        self.ended: list[NoteOff] = []
        self.heard_s = 0.0
        held = harp_set(SETTINGS.harp)
        setup = TakeSetup(SETTINGS, held, "rehearsal", self.folder, SETTINGS.capture.rate_hz, os.getpid())
        self.writer = TakeProcess(setup, self.said.append, patient=True)

    def play(self, until_s: float = float("inf")) -> None:
        """Play the tune, or its beginning."""
        chain = Chain(SETTINGS, SETTINGS.capture.rate_hz)
        chain.add_watcher(self.writer.add)
        chain.add_watcher(self._watch)
        with rehearsal_source(SETTINGS, SystemClock()) as source:
            while chain.now_s < until_s and (block := source.read(0.0)) is not None:
                self.writer.add_sound(block)
                chain.feed(block)
        self.heard_s = chain.now_s
        if until_s == float("inf"):
            chain.finish()
            self.writer.finish()

    def kill(self) -> None:
        """Kill the writer once it has taken what was played, as if the machine had stopped now."""
        size, give_up_s = -1, time.monotonic() + _PATIENCE_S
        while self._waiting or size != (size := sum(path.stat().st_size for path in self.folder.path.iterdir())):
            assert time.monotonic() < give_up_s, "the writer takes nothing any more"
            time.sleep(0.3)
        (process,) = [child for child in active_children() if child.name == "reedwire-take"]
        assert process.pid is not None
        os.kill(process.pid, signal.SIGKILL)
        self.writer.finish()

    @property
    def _waiting(self) -> int:
        """Records that the writer has not taken yet, however long the machine lets it wait."""
        return self.writer._events.waiting + self.writer._sound.waiting

    def _watch(self, event: Event) -> None:
        if isinstance(event, NoteOff):
            self.ended.append(event)
