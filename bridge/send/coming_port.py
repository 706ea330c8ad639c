"""A MIDI port that is being opened again, by another thread."""

from __future__ import annotations

import threading
from collections.abc import Callable

from bridge.send.midi_system import JoinedPort, abandon

Background = Callable[[Callable[[], None]], None]


def in_background(work: Callable[[], None]) -> None:
    """Let another thread do it.

    The MIDI library keeps other threads from running while it opens or closes: 0.1 to 0.4 s were seen.
    """
    threading.Thread(target=work, name="reedwire-port", daemon=True).start()


class ComingPort:
    """A port that is being opened again, since ``since_s``."""

    def __init__(self, since_s: float) -> None:
        self.since_s = since_s
        self.port: JoinedPort | None = None
        self.done = False
        self._given_up = False
        self._lock = threading.Lock()

    def finish(self, port: JoinedPort | None) -> None:
        """It is open, or (None) could not be opened; nobody may want it any more."""
        with self._lock:
            self.port, self.done = port, True
            if self._given_up and port is not None:
                abandon(port)

    def give_up(self) -> None:
        """Nobody takes it any more, be it open or not."""
        with self._lock:
            self._given_up = True
            if self.port is not None:
                abandon(self.port)
