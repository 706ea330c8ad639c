"""Files of a take replaced all at once: nothing is touched until every new one is there, and none is lost.

The versions that were there go into a folder of their own below ``before``: ``before/1``, ``before/2`` and so on.
"""

from __future__ import annotations

import filecmp
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

from bridge.base.errors import UserError
from bridge.takes.folder import TakeFolder

_STAGE = ".rebuilding-"


class Stage:
    """Where the new versions of a take's files are made: ``path / name`` for each; :meth:`put_in_place` ends it."""

    def __init__(self, folder: TakeFolder, path: Path) -> None:
        self._folder = folder
        self.path = path
        #: The names of the files that were replaced or made, and the folder of the versions before, None for none.
        self.changed: tuple[str, ...] = ()
        self.before: Path | None = None

    def put_in_place(self) -> None:
        """Keep the versions before, then put the new ones in their place; what is the same stays untouched.

        Raises OSError with everything as it was, or, from the first replacement on, with each file old or new as a
        whole and all versions before kept.
        """
        made = sorted(path for path in self.path.iterdir() if not self._is_same(path))
        for path in made:
            with path.open("rb") as file:
                os.fsync(file.fileno())
        replaced = [path.name for path in made if (self._folder.path / path.name).exists()]
        if replaced:
            self.before = self._keep(replaced)
        for path in made:
            path.replace(self._folder.path / path.name)
        _sync(self._folder.path)
        self.changed = tuple(path.name for path in made)

    def _is_same(self, path: Path) -> bool:
        old = self._folder.path / path.name
        return old.exists() and filecmp.cmp(path, old, shallow=False)

    def _keep(self, names: list[str]) -> Path:
        """Copies of these files in the next free folder below ``before``."""
        self._folder.before.mkdir(exist_ok=True)
        for number in count(1):
            kept = self._folder.before / str(number)
            try:
                kept.mkdir()
                break
            except FileExistsError:
                continue
        for name in names:
            copied = shutil.copy2(self._folder.path / name, kept / name)
            with Path(copied).open("rb") as file:
                os.fsync(file.fileno())
        _sync(kept)
        return kept


@contextmanager
def stage_for(folder: TakeFolder) -> Iterator[Stage]:
    """A stage for new versions of the files of ``folder``, gone when left whatever the reason.

    Raises UserError where the folder cannot be written.
    """
    try:
        path = Path(tempfile.mkdtemp(prefix=_STAGE, dir=folder.path))
    except OSError as error:
        raise _unwritable(folder, error) from error
    try:
        yield Stage(folder, path)
    except OSError as error:
        raise _unwritable(folder, error) from error
    finally:
        shutil.rmtree(path, ignore_errors=True)


def _unwritable(folder: TakeFolder, error: OSError) -> UserError:
    why = error.strerror or error
    return UserError(f"{folder.path} cannot be written ({why}). Check its rights and the disk; nothing was lost.")


def _sync(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
