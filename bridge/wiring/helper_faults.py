"""A fault of the program in a helper (take writer, meter, board, sound card): kept as the engine's own would be.

The helper leaves a bundle that its name and the engine's process are part of, since nobody else knows where it was
raised; the engine, which plays on meanwhile, adds the log of the session when that is over, and tells of it.
"""

from __future__ import annotations

import os
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing import parent_process
from pathlib import Path

from bridge.base.errors import OWN_FAULT
from bridge.wiring.crash_bundle import HOLDS, add_session, without_home, write_bundle
from bridge.wiring.log_file import LOG, Recent, state_folder


@contextmanager
def fault_kept(part: str, told: Callable[[], None] = lambda: None) -> Iterator[None]:
    """Around all that a helper does: an exception leaves a bundle, then ``told`` is called and the status is 70.

    ``part`` is the helper's name, a word. Of one that is started again and again the first fault is kept. Where no
    bundle can be written, or in a process that is no helper, the exception goes on.
    """
    try:
        yield
    except Exception as error:
        if not _kept(part, error):
            raise
        told()
        sys.exit(OWN_FAULT)


@contextmanager
def faults_told(session: Recent, tell: Callable[[str], None]) -> Iterator[None]:
    """Around a whole session: at its end, what helpers left gets the session's log, and ``tell`` says where it lies."""
    _set_apart()
    before = _left()
    try:
        yield
    finally:
        for path in sorted(_left() - before):
            # What there is of it is worth sending as well.
            with suppress(OSError, zipfile.BadZipFile):
                add_session(path, session.text())
            LOG.error("a helper had a fault: %s", path.name)
            tell("A part of reedwire stopped by a fault of reedwire itself.")
            tell(f"What is known of it lies in {without_home(str(path))}")
            tell(f"Please attach that to a report. It holds {HOLDS}.")


def _kept(part: str, error: Exception) -> bool:
    """Whether there is a bundle now, of this fault or of an earlier one of the same part."""
    engine = parent_process()
    if engine is None:
        return False
    try:
        folder = state_folder()
        if not list(folder.glob(_name("*", part, engine.pid))):
            write_bundle(folder, error, name=_name(time.strftime("%Y-%m-%d-%H%M%S"), part, engine.pid))
    except Exception:  # noqa: BLE001 -- a second fault must not hide the first
        return False
    return True


def _set_apart() -> None:
    """Rename what a process of the same number left once: numbers come again, in a container with each start."""
    for path in _left():
        with suppress(OSError):
            path.rename(path.with_name(f"{path.stem}-earlier.zip"))


def _left() -> set[Path]:
    """The bundles that helpers of this process have left."""
    with suppress(OSError, RuntimeError):
        return set(state_folder().glob(_name("*", "*", os.getpid())))
    return set()


def _name(when: str, part: str, engine: int | None) -> str:
    """Name of the bundle of a helper, or what such names look like."""
    return f"crash-{when}-{part}-of-{engine}.zip"
