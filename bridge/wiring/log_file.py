"""The log: what a session was and what went wrong in it, written by a thread of its own so that nobody waits.

A file in the user's state folder (XDG Base Directory Specification: $XDG_STATE_HOME, else ~/.local/state; on macOS
~/Library/Logs, Apple's File System Programming Guide), of limited size, the last three kept. REEDWIRE_LOG names another
file, or none.
"""

from __future__ import annotations

import logging
import os
import platform
import queue
import sys
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from logging.handlers import QueueHandler, QueueListener, RotatingFileHandler
from pathlib import Path

from pydantic import BaseModel

from bridge import __version__

#: Whoever has something to tell tells it here.
LOG = logging.getLogger("reedwire")
LOG.propagate = False
#: Python's last resort would print what no log takes.
LOG.addHandler(logging.NullHandler())

ENVIRONMENT = "REEDWIRE_LOG"
_MOST_BYTES, _OLDER = 500_000, 2
_WAITING = 2000
_FIRST, _LAST = 60, 400
_LINE = logging.Formatter("%(asctime)s %(levelname)s %(message)s")


class Recent(logging.Handler):
    """The first and the last lines of this session, in memory: what a crash bundle holds of it."""

    def __init__(self) -> None:
        super().__init__()
        self.setFormatter(_LINE)
        self._first: list[str] = []
        self._last: deque[str] = deque(maxlen=_LAST)

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one line."""
        kept = self._first if len(self._first) < _FIRST else self._last
        kept.append(self.format(record))

    def text(self) -> str:
        """All that is kept, a line each."""
        return "\n".join([*self._first, *self._last, ""])


class _Queue(QueueHandler):
    """Hands lines to the thread; one that finds no room is left out, since nobody may wait for the disk."""

    def enqueue(self, record: logging.LogRecord) -> None:
        try:
            self.queue.put_nowait(record)
        except queue.Full:
            return


class _File(RotatingFileHandler):
    """The file itself; ``trouble`` is told once when it cannot be written."""

    def __init__(self, path: Path, trouble: Callable[[str], None]) -> None:
        super().__init__(path, maxBytes=_MOST_BYTES, backupCount=_OLDER, encoding="utf-8", errors="replace")
        self.setFormatter(_LINE)
        self._path = path
        self._trouble = trouble
        self._told = False

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: ARG002, N802 -- as logging calls it
        """Say it once and go on."""
        if not self._told:
            self._told = True
            self._trouble(cannot_write(self._path, sys.exception()))


def state_folder(environment: Mapping[str, str] = os.environ, system: str = sys.platform) -> Path:
    """Where the log and crash bundles lie; not made here. Raises RuntimeError when nobody knows a home folder."""
    chosen = environment.get("XDG_STATE_HOME", "")
    if chosen.startswith("/"):
        return Path(chosen) / "reedwire"
    if system == "darwin":
        return Path.home() / "Library" / "Logs" / "reedwire"
    return Path.home() / ".local" / "state" / "reedwire"


@contextmanager
def session_log(words: list[str], trouble: Callable[[str], None]) -> Iterator[Recent]:
    """Inside, what is told to :data:`LOG` is kept in memory and, unless REEDWIRE_LOG is ``none``, in the file.

    ``words`` are those of the command line; ``trouble`` is told in one line when the file cannot be written.
    """
    recent = Recent()
    handlers: list[logging.Handler] = [recent]
    listener, file = None, _opened(trouble)
    if file is not None:
        waiting: queue.Queue[logging.LogRecord] = queue.Queue(_WAITING)
        handlers.append(_Queue(waiting))
        listener = QueueListener(waiting, file)
        listener.start()
    LOG.setLevel(logging.INFO)
    for handler in handlers:
        LOG.addHandler(handler)
    LOG.info("reedwire %s, Python %s, %s", __version__, platform.python_version(), platform.platform())
    LOG.info("asked: %s", " ".join(words))
    try:
        yield recent
    finally:
        for handler in handlers:
            LOG.removeHandler(handler)
        if listener is not None and file is not None:
            listener.stop()
            # What a full disk did not take was told; letting go of it must not hide how the session ended.
            with suppress(OSError):
                file.close()


def differing(settings: BaseModel, plain: BaseModel, above: str = "") -> list[str]:
    """The settings that differ from ``plain``, as ``key=value``."""
    found = []
    for name in type(settings).model_fields:
        value, usual = getattr(settings, name), getattr(plain, name)
        if isinstance(value, BaseModel) and isinstance(usual, BaseModel):
            found += differing(value, usual, f"{above}{name}.")
        elif value != usual:
            found.append(f"{above}{name}={value}")
    return found


def cannot_write(path: Path, error: BaseException | None) -> str:
    """What to say of a log that cannot be written."""
    reason = getattr(error, "strerror", None) or error
    return f"The log {path} cannot be written ({reason}); all else goes on. {ENVIRONMENT}=none does without."


def _opened(trouble: Callable[[str], None]) -> _File | None:
    """The log, or None where there is none, or none can be had, which is told."""
    chosen = os.environ.get(ENVIRONMENT, "")
    if chosen == "none":
        return None
    path = Path(chosen or "log")
    try:
        if not chosen:
            path = state_folder() / "log"
            path.parent.mkdir(parents=True, exist_ok=True)
        elif not path.parent.exists():
            trouble(f"The log {path} has no folder to lie in: make {path.parent}, or correct {ENVIRONMENT}.")
            return None
        return _File(path, trouble)
    except (OSError, RuntimeError) as error:
        trouble(cannot_write(path, error))
        return None
