"""The file a command will write, looked at before anything is heard, so that what was heard is not lost at the end."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import typer

from bridge.base.errors import UserError
from bridge.base.printable import printable

_YAML = (".yaml", ".yml")


def may_write(path: Path, option: str, what: str, *, overwrite: bool, endings: Sequence[str] = _YAML) -> None:
    """Ask before the file at ``path`` is written over, unless ``overwrite`` says so already.

    ``option`` is the one that named it, ``what`` the kind of file, such as ``a preset``, and ``endings`` those that its
    name may have. Raises UserError when it may not be written over, or cannot be written where it should lie.
    """
    if path.suffix.lower() not in endings:
        raise UserError(f"{option} {path}: {what} needs the ending {endings[0]}.")
    if not path.parent.is_dir():
        raise UserError(f"{option} {path}: there is no folder {path.parent}. Make it, or choose another.")
    if path.is_dir():
        raise UserError(f"{option} {path}: is a folder. Choose the name of a file.")
    try:
        # Only trying tells: what a folder's rights say does not hold for every file system.
        tempfile.TemporaryFile(dir=path.parent).close()
    except OSError as error:
        raise UserError(
            f"{option} {path}: nothing can be written there ({error.strerror}). Choose another folder."
        ) from error
    if overwrite or not path.exists():
        return
    if not (sys.stdin.isatty() and typer.confirm(f"{printable(path)} is there already. Write over it?")):
        raise UserError(
            f"{option} {path}: is there already, and was not touched. Choose another name, or say --overwrite."
        )
