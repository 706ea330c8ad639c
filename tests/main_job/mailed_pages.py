"""Pages of ``reedwire compare`` and ``explain``, made by the command itself and opened from disk in real Chromium."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import soundfile
from playwright.sync_api import Browser, Page

from main_job.chromium import Look, opened
from sounds.known import KnownSound
from sounds.students import FIRST_S, TEMPO

TIMED = ("--tempo", f"{TEMPO:g}", "--first-beat", str(FIRST_S))


def save(path: Path, sound: KnownSound) -> Path:
    """The sound as a file."""
    soundfile.write(path, sound.samples, sound.rate, subtype="PCM_16")
    return path


def made(command: str, *words: str | Path, out: Path) -> Path:
    """The page that ``reedwire command words`` writes."""
    whole = [sys.executable, "-m", "bridge.cli.main", command, *map(str, words), "--out", str(out)]
    done = subprocess.run(whole, check=False, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return out


@contextmanager
def read_from_disk(
    browser: Browser, path: Path, width: int = 1024, height: int = 768, look: Look = "dark"
) -> Iterator[Page]:
    """The page opened by double-click, so to say; fails at the end when it has asked any network for anything."""
    with opened(browser, "about:blank", width, height, look) as page:
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(path.as_uri())
        yield page
        assert asked[0] == path.as_uri()
        assert [url[:80] for url in asked if not url.startswith(("file:", "data:"))] == []
        assert [url for url in asked if url.startswith("file:")] == [path.as_uri()]
