"""What a fault of the program leaves behind for whoever mends it: one .zip without any sound."""

from __future__ import annotations

import platform
import sys
import time
import traceback
import zipfile
from importlib.metadata import distributions
from pathlib import Path

from bridge import __version__
from bridge.base.writing import written_safely

#: What it holds, for the one who sends it.
HOLDS = "error, versions, your command line, settings and the end of the log, but no sound"


def write_bundle(folder: Path, error: BaseException, *, name: str | None = None) -> Path:
    """Write ``crash-DATE.zip``, or ``name``, into ``folder``, made when missing, and give its path.

    The user's home folder reads ``~`` in it. Raises OSError when it cannot be written; no half of it is left then.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / (name or f"crash-{time.strftime('%Y-%m-%d-%H%M%S')}.zip")
    with written_safely(path) as temporary:
        _add(temporary, "error.txt", "".join(traceback.format_exception(error)))
        _add(temporary, "versions.txt", _versions())
    return path


def add_session(path: Path, session: str) -> None:
    """Add the log of the session to a bundle. Raises OSError, BadZipFile when that cannot be done."""
    _add(path, "session.txt", session)


def _add(path: Path, name: str, text: str) -> None:
    """Add a part to the file, which may be empty."""
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as bundle:
        bundle.writestr(name, without_home(text))


def without_home(text: str) -> str:
    """The text with the user's home folder as ``~``."""
    home = str(Path.home())
    return text if len(home) < 2 else text.replace(home, "~")


def _versions() -> str:
    """Program, Python, platform and every library, a line each."""
    libraries = sorted({f"{each.metadata['Name']} {each.version}" for each in distributions()}, key=str.lower)
    about = [f"reedwire {__version__}", f"Python {sys.version}", platform.platform(), platform.machine()]
    return "\n".join([*about, "", *libraries, ""])
