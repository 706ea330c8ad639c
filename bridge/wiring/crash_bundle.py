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

#: What it holds, for the one who sends it.
HOLDS = "error, versions, your command line, settings and the end of the log, but no sound"


def write_bundle(folder: Path, error: BaseException, session: str) -> Path:
    """Write ``crash-DATE.zip`` into ``folder``, made when missing, and give its path.

    ``session`` is the log of this session. The user's home folder reads ``~`` in it. Raises OSError when it cannot be
    written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"crash-{time.strftime('%Y-%m-%d-%H%M%S')}.zip"
    parts = {
        "error.txt": "".join(traceback.format_exception(error)),
        "versions.txt": _versions(),
        "session.txt": session,
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, text in parts.items():
            bundle.writestr(name, without_home(text))
    return path


def without_home(text: str) -> str:
    """The text with the user's home folder as ``~``."""
    home = str(Path.home())
    return text if len(home) < 2 else text.replace(home, "~")


def _versions() -> str:
    """Program, Python, platform and every library, a line each."""
    libraries = sorted({f"{each.metadata['Name']} {each.version}" for each in distributions()}, key=str.lower)
    about = [f"reedwire {__version__}", f"Python {sys.version}", platform.platform(), platform.machine()]
    return "\n".join([*about, "", *libraries, ""])
