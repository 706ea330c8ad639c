"""One line of a terminal that says where a replay is, and what else there is to say, written by a thread of its own.

A terminal may stop reading at any time, and what sends notes must not wait for it.
"""

from __future__ import annotations

import shutil
import sys
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager

from bridge.base.printable import printable
from bridge.cli.take_times import clock_time
from bridge.harp.note_names import note_name
from bridge.takes.replayed import Reach
from bridge.wiring.log_file import LOG
from bridge.wiring.replaying import Progress

_EVERY_S = 0.2
#: How long the end waits for a terminal that does not read, in seconds.
_PATIENCE_S = 1.0
_MOST_BAR = 40
#: Back to the first column, and what stands there away (ECMA-48).
_CLEAR = "\r\x1b[K"


class PlaceLine:
    """Shows where a replay of ``reach`` is on standard error, where that is a terminal.

    ``root_midi`` is what notes are named over, None where it is not known.
    """

    def __init__(self, reach: Reach, root_midi: int | None) -> None:
        self._reach = reach
        self._root_midi = root_midi
        self._progress = Progress()
        self._lines: deque[str] = deque()
        self._ends = threading.Event()
        self._shown = sys.stderr.isatty()

    @contextmanager
    def showing(self, progress: Progress) -> Iterator[None]:
        """Inside, the line is there and says what ``progress`` is."""
        self._progress = progress
        thread = threading.Thread(target=self._write, name="place", daemon=True)
        thread.start()
        try:
            yield
        finally:
            self._ends.set()
            thread.join(_PATIENCE_S)

    def say(self, text: str) -> None:
        """Say one line above it, soon; never waits."""
        LOG.info("%s", text)
        self._lines.append(printable(text))

    def _write(self) -> None:
        try:
            ended = False
            while not ended:
                # Looked at first, so that what was said before the end is still said.
                ended = self._ends.wait(_EVERY_S)
                text = "".join(f"{self._lines.popleft()}\n" for _ in range(len(self._lines)))
                if self._shown:
                    text = _CLEAR + text + ("" if ended else self._place())
                sys.stderr.write(text)
                sys.stderr.flush()
        except (OSError, ValueError):
            # A terminal that went away: there is nobody to tell.
            return

    def _place(self) -> str:
        """Where it is, in one line that is never wider than the terminal."""
        progress = self._progress
        at_s = self._reach.place(progress.sent_s)
        part = (at_s - self._reach.from_s) / (self._reach.to_s - self._reach.from_s)
        note = "" if progress.sounding is None else note_name(progress.sounding, self._root_midi)
        words = f"{clock_time(at_s)} of {clock_time(self._reach.to_s)}"
        if self._reach.loop:
            words += f", round {int(max(0.0, progress.sent_s) / self._reach.round_s) + 1}"
        columns = shutil.get_terminal_size().columns
        room = min(_MOST_BAR, columns - len(words) - 9)
        bar = f"[{'#' * round(part * room):<{room}}] " if room > 0 else ""
        return f"{words} {bar}{note}"[: columns - 1]
