"""The rules of the house hold, and each of them is seen to fail on a violation planted in a tree of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from house_rules import ORDER, RULES, Source, read_sources, read_tests, short_files

ROOT = Path(__file__).resolve().parent.parent
_DOC = '"""A file."""\n'

#: Rule, file it is planted in, text of the file, and a word that the complaint must hold.
PLANTED = (
    ("folders_known", "bridge/extra/thing.py", _DOC, "no place"),
    ("imports_in_order", "bridge/follow/thing.py", f"{_DOC}from bridge.send.pitch import x\n", "follow imports send"),
    ("imports_in_order", "bridge/base/thing.py", f"{_DOC}import bridge.cli.main\n", "base imports cli"),
    ("imports_in_order", "bridge/takes/thing.py", f"{_DOC}from bridge import web\n", "takes imports web"),
    ("imports_in_order", "bridge/thing.py", f"{_DOC}import bridge.base\n", "bridge imports base"),
    ("imports_in_order", "bridge/harp/thing.py", f"{_DOC}from ..cli import main\n", "relative"),
    ("imports_in_order", "bridge/send/thing.py", f"{_DOC}def f():\n    from bridge.web import x\n", "imports web"),
    ("pure_folders", "bridge/quantise/thing.py", f"{_DOC}import time\n", "time"),
    ("pure_folders", "bridge/harp/thing.py", f"{_DOC}from pathlib import Path\n", "pathlib"),
    ("pure_folders", "bridge/follow/thing.py", f"{_DOC}import os.path\n", "os.path"),
    ("pure_folders", "bridge/study/thing.py", f"{_DOC}import yaml\n", "yaml"),
    ("pure_folders", "bridge/follow/thing.py", f"{_DOC}x = open('y')\n", "open()"),
    ("one_home", "bridge/wiring/thing.py", f"{_DOC}import sounddevice\n", "belongs into one file of capture"),
    ("one_home", "bridge/takes/thing.py", f"{_DOC}def f():\n    import rtmidi.midiutil\n", "one file of send"),
    ("one_home", "bridge/wiring/thing.py", f"{_DOC}from aiohttp import web\n", "one file of web"),
    ("short_files", "bridge/send/thing.py", _DOC + "x = 1\n" * 300, "301 lines"),
    ("documented", "bridge/send/thing.py", "x = 1\n", "for the file"),
    ("documented", "bridge/send/thing.py", f"{_DOC}def loud():\n    pass\n", "loud"),
    (
        "documented",
        "bridge/send/thing.py",
        f'{_DOC}class A:\n    """A."""\n    def loud(self):\n        pass\n',
        "loud",
    ),
)


@pytest.fixture(scope="module")
def sources() -> list[Source]:
    """The files of this checkout."""
    return read_sources(ROOT)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_the_house_keeps_its_rules(rule: object, sources: list[Source]) -> None:
    """No file of bridge/ breaks the rule."""
    assert callable(rule)
    assert list(rule(sources)) == []


def test_no_test_file_is_too_long(tmp_path: Path) -> None:
    """The limit on lines holds for the tests too, and is seen to be broken by a longer one."""
    assert list(short_files(read_tests(ROOT))) == []
    planted = tmp_path / "tests" / "send" / "test_long.py"
    planted.parent.mkdir(parents=True)
    planted.write_text(_DOC + "x = 1\n" * 300, encoding="utf-8")
    assert list(short_files(read_tests(tmp_path))) == ["tests/send/test_long.py: 301 lines, more than 300"]


def test_every_folder_of_the_signal_path_is_looked_at(sources: list[Source]) -> None:
    """The rules see real files in each stage that the sound passes, so that they cannot hold for want of any."""
    seen = {source.folder for source in sources}
    assert {"base", "capture", "follow", "harp", "quantise", "send", "takes", "wiring", "cli"} <= seen <= {"", *ORDER}


@pytest.mark.parametrize(("rule", "path", "text", "complaint"), PLANTED, ids=[f"{p[0]}: {p[3]}" for p in PLANTED])
def test_a_planted_violation_is_found(tmp_path: Path, rule: str, path: str, text: str, complaint: str) -> None:
    """Each rule is silent about a clean tree and complains once a violation is planted in it."""
    check = next(item for item in RULES if item.__name__ == rule)
    clean = tmp_path / "bridge" / "base" / "clean.py"
    clean.parent.mkdir(parents=True)
    clean.write_text(_DOC, encoding="utf-8")
    assert list(check(read_sources(tmp_path))) == []

    planted = tmp_path / path
    planted.parent.mkdir(parents=True, exist_ok=True)
    planted.write_text(text, encoding="utf-8")
    complaints = list(check(read_sources(tmp_path)))
    assert any(complaint in line and path in line for line in complaints)


def test_a_second_home_of_a_library_is_found(tmp_path: Path) -> None:
    """Two files of capture that both import sounddevice are one too many."""
    for name in ("one", "two"):
        file = tmp_path / "bridge" / "capture" / f"{name}.py"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(f"{_DOC}import sounddevice\n", encoding="utf-8")
    one_home = next(item for item in RULES if item.__name__ == "one_home")
    assert list(one_home(read_sources(tmp_path))) == [
        "sounddevice is imported in 2 files: bridge/capture/one.py, bridge/capture/two.py"
    ]
