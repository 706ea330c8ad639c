"""Real parts that some tests need: programs, libraries and sound fonts of the machine.

A test names what it needs with :func:`require`, at its top or in a fixture::

    soundfont = require("soundfont")
    jackd = require("jackd")

``require`` returns the path of the part. When the part is missing the test is skipped *with the name of the part and
how to get it*; with ``REQUIRE_ALL=1`` in the environment, which ``.ci/run`` sets, it fails instead. A test that starts
a program stops it by its own process id (:func:`running` does) and binds to loopback only.
"""

from __future__ import annotations

import ctypes.util
import os
import shutil
import signal
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import pytest

_SOUNDFONTS = (
    Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    Path("/usr/share/soundfonts/FluidR3_GM.sf2"),
)
_SPEECH = Path("/usr/share/asterisk/sounds")


@dataclass(frozen=True)
class Part:
    """A real part: what it is called, how it is looked for and the Debian package that brings it."""

    name: str
    kind: str
    package: str

    def find(self) -> str | None:
        """Path (a library: its file name) of the part on this machine, or None."""
        if self.kind == "program":
            return shutil.which(self.name)
        if self.kind == "library":
            return ctypes.util.find_library(self.name)
        if self.kind == "folder":
            return str(_SPEECH) if _SPEECH.is_dir() else None
        return next((str(path) for path in _SOUNDFONTS if path.is_file()), None)


PARTS: Mapping[str, Part] = {
    part.name: part
    for part in (
        Part("jackd", "program", "jackd2"),
        Part("jack", "library", "jackd2"),
        Part("portaudio", "library", "libportaudio2"),
        Part("fluidsynth", "program", "fluidsynth"),
        Part("pd", "program", "puredata-core"),
        Part("scsynth", "program", "supercollider-server"),
        Part("sclang", "program", "supercollider-language"),
        Part("ffmpeg", "program", "ffmpeg"),
        Part("chromium", "program", "chromium"),
        Part("soundfont", "file", "fluid-soundfont-gm"),
        Part("speech", "folder", "asterisk-core-sounds-en-wav, and -es-, -fr-, -it-, -ru-"),
    )
}


def require(name: str) -> str:
    """Path of the real part ``name``; skips the test when it is missing, or fails it under ``REQUIRE_ALL=1``.

    Raises KeyError for a name that is not in ``PARTS``.
    """
    part = PARTS[name]
    found = part.find()
    if found is None:
        missing(name, f"not on this machine; Debian package {part.package}")
    return found


def missing(name: str, reason: str) -> NoReturn:
    """Skip the test for want of the part ``name``, or fail it under ``REQUIRE_ALL=1``. Never returns."""
    message = f"real part missing: {name} ({reason})"
    if os.environ.get("REQUIRE_ALL") == "1":
        pytest.fail(message, pytrace=False)
    pytest.skip(message)


@contextmanager
def running(command: Sequence[str], **options: object) -> Iterator[subprocess.Popen[Any]]:
    """A program that runs for the length of the ``with`` block and is then ended by its own process id.

    ``options`` go to ``subprocess.Popen``. It is asked with SIGTERM and, after 5 seconds, killed; its pipes are closed.
    """
    process: subprocess.Popen[Any] = subprocess.Popen(list(command), **options)  # type: ignore[call-overload]
    try:
        yield process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
            with suppress(subprocess.TimeoutExpired):
                process.wait(5.0)
        if process.poll() is None:
            process.kill()
            process.wait(5.0)
        for pipe in (process.stdin, process.stdout, process.stderr):
            if pipe is not None:
                with suppress(BrokenPipeError):
                    pipe.close()
