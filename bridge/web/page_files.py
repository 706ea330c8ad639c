"""The files that the page is made of."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from bridge.base.errors import UserError

INDEX = "index.html"
#: What the page is made of; no other file is ever looked at.
_KINDS = {
    ".html": "text/html",
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
}


def page_files(folder: Path) -> Mapping[str, tuple[bytes, str]]:
    """The page's files by their names, with their kinds. Raises UserError when the page itself is not there."""
    files = {
        path.name: (path.read_bytes(), _KINDS[path.suffix])
        for path in (sorted(folder.iterdir()) if folder.is_dir() else ())
        if path.suffix in _KINDS and path.is_file() and not path.is_symlink()
    }
    if INDEX not in files:
        raise UserError(f"The board's page is missing from {folder}. Install reedwire again.")
    return files
