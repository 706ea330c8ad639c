"""One resolver for ``config/`` and ``shared/``: beside the package in a checkout, inside it when installed."""

from __future__ import annotations

from pathlib import Path

from bridge.base.errors import UserError

_PACKAGE = Path(__file__).resolve().parent.parent


def resource(folder: str, name: str) -> Path:
    """Path of ``name`` in the project's ``folder`` (``config`` or ``shared``).

    Raises UserError with what is there when no such file exists.
    """
    path = resource_folder(folder) / name
    if not path.is_file():
        there = ", ".join(sorted(item.name for item in resource_folder(folder).iterdir()))
        raise UserError(f"{folder}/{name} does not exist. There is: {there}")
    return path


def resource_folder(folder: str) -> Path:
    """Path of ``config`` or ``shared``, installed (``bridge/_data/``) or in a checkout."""
    for candidate in (_PACKAGE / "_data" / folder, _PACKAGE.parent / folder):
        if candidate.is_dir():
            return candidate
    raise UserError(f"The folder {folder}/ of reedwire is missing. Install reedwire again.")
