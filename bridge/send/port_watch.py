"""Which MIDI ports there are, looked for outside the engine: a port that vanishes tells nobody."""

from __future__ import annotations

import select
import subprocess
import threading
from collections import Counter
from typing import Protocol

from bridge.send.port_looker import Seen, command, read_seen, write_ask

#: Ports are looked for so often, in seconds.
LOOK_S = 0.4
#: When a look takes longer, in seconds, the MIDI system does not answer. Long, since a busy machine may take a second
#: over it, and a port that is only thought to be gone ends the note for nothing.
_PATIENCE_S = 3.0
#: Another process is started so long after one has ended, in seconds.
_AGAIN_S = 0.1
#: Closing waits so long for the process to end, in seconds; one that hangs ends by itself later.
_ENDING_S = 2.0


class Watch(Protocol):
    """Knows which ports there are, without ever holding up who asks."""

    @property
    def seen(self) -> Seen | None:
        """The last look, a new object each time; None before the first."""
        ...

    def open(self, system: str) -> None:
        """Begin to look at that system, for one more port."""
        ...

    def look_now(self, within_s: float) -> Seen | None:
        """A look taken now; it is empty when nothing answers within so many seconds."""
        ...

    def close(self, system: str) -> None:
        """One port less."""
        ...


class PortWatch:
    """Looks for ports in a process of its own, as long as one port at least is open; all ports may share one watch."""

    def __init__(self) -> None:
        self._seen: Seen | None = None
        self._systems: Counter[str] = Counter()
        self._thread: threading.Thread | None = None
        self._ending = self._prove = False
        self._wake, self._fresh = threading.Event(), threading.Event()

    @property
    def seen(self) -> Seen | None:
        """The last look, a new object each time; None before the first."""
        return self._seen

    def open(self, system: str) -> None:
        """Begin to look at that system, for one more port."""
        self._systems[system] += 1
        if self._thread is None:
            self._ending, self._seen = False, None
            self._thread = threading.Thread(target=self._run, name="reedwire-ports", daemon=True)
            self._thread.start()

    def look_now(self, within_s: float) -> Seen | None:
        """A look taken now; it is empty when nothing answers within so many seconds."""
        self._prove = True
        self._fresh.clear()
        self._wake.set()
        return self._seen if self._fresh.wait(within_s) else Seen()

    def close(self, system: str) -> None:
        """One port less; the last one ends the process."""
        self._systems -= Counter([system])
        thread = self._thread
        if thread is None or self._systems:
            return
        self._thread = None
        self._ending = True
        self._wake.set()
        thread.join(_ENDING_S)

    def _run(self) -> None:
        """Be the thread: ask again and again, and start another process when one has died."""
        looker: _Looker | None = None
        while not self._ending:
            try:
                looker = looker or _Looker()
                prove, self._prove = self._prove, False
                # A copy, since ports are opened and closed by another thread.
                seen = looker.ask(tuple(self._systems.copy()), prove=prove)
            except (OSError, ValueError):
                # It has ended, as it does when it cannot look any longer, or there is no room for another process now.
                if looker is not None:
                    looker.end()
                looker = None
            if looker is not None and looker.is_up:
                self._seen = seen
                # A look that was under way when one was asked for does not count.
                if not self._prove:
                    self._fresh.set()
            self._wake.wait(LOOK_S if looker is not None else _AGAIN_S)
            self._wake.clear()
        if looker is not None:
            looker.end()


class _Looker:
    """One process that looks. Raises OSError when the system starts none."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(  # noqa: S603 -- ourselves
            command(),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
            # Ctrl-C and a closed terminal are for the engine to hear; this ends when the engine has.
            start_new_session=True,
        )
        if self._process.stdin is None or self._process.stdout is None:
            raise BrokenPipeError
        self._asks, self._answers = self._process.stdin, self._process.stdout
        self.is_up = self._owes = False

    def ask(self, systems: tuple[str, ...], *, prove: bool) -> Seen:
        """What it sees; nothing while it hangs, or is not up yet. Raises OSError when it has ended.

        It is never killed: while it hangs, its answer is still waited for.
        """
        asks, answers = self._asks, self._answers
        if self.is_up and not self._owes:
            asks.write(write_ask(systems, prove=prove))
            self._owes = True
        if not select.select([answers], [], [], _PATIENCE_S)[0]:
            return Seen()
        line = answers.readline()
        if not line:
            raise BrokenPipeError
        if not self.is_up:
            self.is_up = True
            return self.ask(systems, prove=prove)
        self._owes = False
        return read_seen(line)

    def end(self) -> None:
        """Let it end by itself, which it does as soon as it sees that nobody asks any more."""
        self._asks.close()
        self._answers.close()
        try:
            self._process.wait(_ENDING_S)
        except subprocess.TimeoutExpired:
            # It hangs, and will end when it has hung for too long. Python need not remind us of it.
            self._process.returncode = 0
