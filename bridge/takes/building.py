"""A take that is made as a whole: out of sight until all of it is there, then at once under its name.

It is made in a hidden folder beside its place. Whatever stops that, a kill too, nothing is left that looks like a take;
what is left of it is taken away when the next one is made there.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from bridge.base.errors import UserError
from bridge.takes.folder import TakeFolder, check_name, names, new_take, none_made

#: Hidden folders begin so.
HIDDEN = ".take-being-made-"


class Building:
    """A take that is being made in ``folder``, out of sight but under the name that it shall have."""

    def __init__(self, parent: Path, name: str, folder: TakeFolder) -> None:
        self._parent, self._name = parent, name
        self.folder = folder

    def put_in_place(self) -> TakeFolder:
        """Let it be a take: under its name, or the next free of ``name-2``, ``name-3`` ...; raises OSError."""
        place = new_take(self._parent, self._name)
        try:
            # The empty folder holds the name, whoever else makes takes here; it is replaced at one stroke.
            self.folder.path.replace(place.path)
        except BaseException:
            place.path.rmdir()
            raise
        handle = os.open(self._parent, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        return place


@contextmanager
def built_aside(parent: Path, name: str) -> Iterator[Building]:
    """Somewhere to make the take ``parent/name``; all of it is gone when left, unless it was put in place.

    ``parent`` is made when missing. Raises UserError like :func:`new_take`.
    """
    check_name(name)
    try:
        parent.mkdir(parents=True, exist_ok=True)
        with _alone(parent):
            hidden = Path(tempfile.mkdtemp(prefix=HIDDEN, dir=parent))
            handle = os.open(hidden, os.O_RDONLY)
            # Whoever makes a take here meanwhile must see that somebody is at work. Where a file system has no locks,
            # nobody takes away what is left either.
            with suppress(OSError):
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        raise none_made(parent, error) from error
    try:
        # Its files tell its name.
        folder = hidden / next(wanted for wanted in names(name) if not (parent / wanted).exists())
        folder.mkdir()
        yield Building(parent, name, TakeFolder(folder))
    except UserError as error:
        if str(hidden) not in str(error):
            raise
        # Nobody knows a folder that is hidden and soon gone.
        raise UserError(str(error).replace(str(hidden), str(parent))) from error
    finally:
        shutil.rmtree(hidden, ignore_errors=True)
        os.close(handle)


def clear_stopped(parent: Path, notice: Callable[[str], None]) -> None:
    """Take away what is left in ``parent`` of takes whose making was stopped; ``notice`` hears that there were some.

    What somebody is at work on is left alone, and so is what cannot be taken away.
    """
    try:
        with _alone(parent):
            cleared = [_is_cleared(hidden) for hidden in sorted(parent.glob(f"{HIDDEN}*"))]
    except OSError:
        return  # There is no such folder yet, or it cannot be read: whoever makes a take there is told.
    if any(cleared):
        notice(f"{parent}: the making of a take was stopped before it was whole; what was left of it is taken away.")


def _is_cleared(hidden: Path) -> bool:
    """Take a hidden folder away, if nobody is at work there."""
    try:
        handle = os.open(hidden, os.O_RDONLY)
    except OSError:
        return False  # It has just been put in place.
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        shutil.rmtree(hidden)
    except OSError:
        return False
    finally:
        os.close(handle)
    return True


@contextmanager
def _alone(parent: Path) -> Iterator[None]:
    """Nobody clears up in ``parent`` between the making of a folder and its lock. Raises OSError if it is not there."""
    handle = os.open(parent, os.O_RDONLY)
    try:
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
