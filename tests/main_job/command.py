"""The real command in a process of its own, and what it said."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

#: The console script of the environment that the tests run in.
REEDWIRE = str(Path(sys.executable).parent / "reedwire")
#: Far beyond what a loaded machine needs: only something that hangs takes this long.
PATIENCE_S = 100.0
#: What no user may ever see on the way out.
_ACCIDENTS = ("Traceback", "leaked", "resource_tracker", "Exception ignored", "Warning", "Segmentation")


@dataclass(frozen=True)
class Said:
    """How a command ended and what it wrote."""

    status: int
    out: str
    err: str

    @property
    def complaints(self) -> list[str]:
        """The lines of standard error that are errors of the command, without its name."""
        return [line.removeprefix("reedwire: ") for line in self.err.splitlines() if line.startswith("reedwire: ")]

    @property
    def accidents(self) -> list[str]:
        """Lines of a traceback, a warning or a leak."""
        return [line for line in (self.out + self.err).splitlines() if any(word in line for word in _ACCIDENTS)]


def reedwire(
    *arguments: str | Path, cwd: Path | None = None, env: Mapping[str, str] | None = None, through: Sequence[str] = ()
) -> Said:
    """Run ``reedwire`` with these arguments to its end; nothing is on its standard input.

    ``through`` is a command that takes it as its last arguments and becomes it.
    """
    done = subprocess.run(
        [*through, REEDWIRE, *map(str, arguments)],
        cwd=cwd,
        env=os.environ if env is None else env,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    return Said(done.returncode, done.stdout, done.stderr)


def free_port() -> int:
    """A UDP port of the loopback that nobody holds at the moment."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.bind(("127.0.0.1", 0))
        port: int = asking.getsockname()[1]
        return port
