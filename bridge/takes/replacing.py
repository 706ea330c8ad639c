"""Files of a take replaced all at once: nothing is touched until every new one is there, and none is lost.

The versions that were there go into a folder of their own below ``before``: ``before/1``, ``before/2`` and so on. New
ones are made on a stage, a folder in the take. Once all are there and safe on the disk the stage is marked; whatever
stops the replacing then, it is brought to its end when the take is next opened. A stage without the mark is thrown
away.
"""

from __future__ import annotations

import fcntl
import filecmp
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from itertools import count
from pathlib import Path

from bridge.base.errors import UserError
from bridge.takes.folder import TakeFolder

_STAGE = ".rebuilding-"
#: Stands on a stage from the moment when all on it is to be put in place.
_MARK = ".all-there"


class Stage:
    """Where the new versions of a take's files are made: ``path / name`` for each; :meth:`put_in_place` ends it."""

    def __init__(self, folder: TakeFolder, path: Path) -> None:
        self._folder = folder
        self.path = path
        self.is_marked = False
        #: The names of the files that were replaced or made, and the folder of the versions before, None for none.
        self.changed: tuple[str, ...] = ()
        self.before: Path | None = None

    def put_in_place(self, kept: Mapping[str, Path] | None = None, *, not_kept: tuple[str, ...] = ()) -> None:
        """Keep the versions before, then put the new ones in their place; what is the same stays untouched.

        ``kept`` are more files to keep, by the name to keep them under, and ``not_kept`` names of those that need not
        be. Raises OSError with everything as it was or, once all is marked, to be ended by :func:`end_replacing`.
        """
        for path in filter(self._is_same, _staged(self.path)):
            path.unlink()
        made = _staged(self.path)
        for path in made:
            _sync(path)
        names = [str(path.relative_to(self.path)) for path in made]
        replaced = {name: self._folder.path / name for name in names if name not in not_kept}
        old = dict(kept or {}) | {name: path for name, path in replaced.items() if path.exists()}
        if old:
            self._keep(old)
        try:
            for folder in {path.parent for path in made} | {self.path}:
                _sync(folder)
            (self.path / _MARK).touch()
            _sync(self.path)
        except BaseException:
            self._drop_before()
            raise
        self.is_marked = True
        _put_in_place(self._folder, self.path)
        self.changed = tuple(names)

    def _is_same(self, path: Path) -> bool:
        old = self._folder.path / path.relative_to(self.path)
        return old.exists() and filecmp.cmp(path, old, shallow=False)

    def _keep(self, files: Mapping[str, Path]) -> None:
        """Copy these files into the next free folder below ``before``."""
        kept = self.before = self._next_before()
        try:
            for name, path in files.items():
                (kept / name).parent.mkdir(exist_ok=True)
                _sync(Path(shutil.copy2(path, kept / name)))
            _sync(kept)
        except BaseException:
            self._drop_before()
            raise

    def _next_before(self) -> Path:
        self._folder.before.mkdir(exist_ok=True)
        for number in count(1):
            path = self._folder.before / str(number)
            try:
                path.mkdir()
            except FileExistsError:
                continue
            return path
        raise AssertionError("count() does not end")

    def _drop_before(self) -> None:
        """Take away what was only half kept, for nothing was replaced."""
        if self.before is not None:
            shutil.rmtree(self.before, ignore_errors=True)
            self.before = None


@contextmanager
def stage_for(folder: TakeFolder) -> Iterator[Stage]:
    """A stage for new versions of the files of ``folder``, gone when left unless it is marked and not yet put in place.

    Raises UserError where the folder cannot be written.
    """
    try:
        path = Path(tempfile.mkdtemp(prefix=_STAGE, dir=folder.path))
        handle = os.open(path, os.O_RDONLY)
    except OSError as error:
        raise _unwritable(folder, error) from error
    stage = Stage(folder, path)
    try:
        # Whoever opens the take meanwhile must see that somebody is at work here.
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield stage
    except OSError as error:
        raise _unwritable(folder, error) from error
    finally:
        if not stage.is_marked:
            shutil.rmtree(path, ignore_errors=True)
        os.close(handle)


def end_replacing(folder: TakeFolder) -> tuple[str, ...]:
    """Bring to its end what was stopped while files were replaced; the names of those put in place now.

    What somebody is at work on is left alone, and what was stopped before anything was replaced is thrown away. Raises
    UserError where the folder cannot be written.
    """
    ended: list[str] = []
    for stage in sorted(folder.path.glob(f"{_STAGE}*")):
        try:
            handle = os.open(stage, os.O_RDONLY)
        except OSError:
            continue  # It has just been put in place.
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if (stage / _MARK).exists():
                ended += _put_in_place(folder, stage)
            else:
                shutil.rmtree(stage, ignore_errors=True)
        except BlockingIOError:
            continue
        except OSError as error:
            raise _unwritable(folder, error) from error
        finally:
            os.close(handle)
    return tuple(ended)


def _put_in_place(folder: TakeFolder, stage: Path) -> list[str]:
    """Put what is on a marked stage in its place, and take the stage away; the names."""
    names = []
    for path in _staged(stage):
        name = path.relative_to(stage)
        target = folder.path / name
        target.parent.mkdir(exist_ok=True)
        path.replace(target)
        _sync(target.parent)
        names.append(str(name))
    shutil.rmtree(stage, ignore_errors=True)
    return names


def _staged(stage: Path) -> list[Path]:
    """The files on a stage, its mark left out."""
    return sorted(path for path in stage.rglob("*") if path.is_file() and path.name != _MARK)


def _unwritable(folder: TakeFolder, error: OSError) -> UserError:
    why = error.strerror or error
    return UserError(f"{folder.path} cannot be written ({why}). Check its rights and the disk; nothing was lost.")


def _sync(path: Path) -> None:
    """See a file or folder safe on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
