"""The rules of the house, each a function over a source tree that gives one line for every violation.

A tree is the folder that holds ``bridge/``; a rule reads the files, imports nothing and so can be tried on a planted
violation.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

#: The folders of ``bridge/`` in the order of the signal: a file imports its own or an earlier one.
ORDER = ("base", "capture", "follow", "harp", "quantise", "send", "study", "takes", "web", "wiring", "cli")
PURE = ("follow", "harp", "quantise", "study")
MOST_LINES = 300
#: Everything of the standard library that knows time, processes, files, devices or the network, and what prints.
IMPURE = frozenset(
    {
        *("_thread", "asyncio", "atexit", "concurrent", "contextvars", "ctypes", "datetime", "fcntl", "glob", "http"),
        *("importlib", "io", "logging", "mmap", "multiprocessing", "os", "pathlib", "queue", "random", "sched"),
        *("secrets", "select", "selectors", "shutil", "signal", "socket", "socketserver", "ssl", "subprocess", "sys"),
        *("tempfile", "termios", "threading", "time", "tty", "urllib"),
    }
)
#: Outside libraries that touch the world: a pure folder uses none of them.
WORLDLY = frozenset(
    {"aiohttp", "av", "mido", "pythonosc", "rich", "rtmidi", "sounddevice", "soundfile", "typer", "yaml"}
)
IMPURE_BUILTINS = frozenset({"input", "open", "print"})
#: Each of these libraries is imported in exactly one file, which lies in the folder named.
ONE_HOME = {"sounddevice": "capture", "rtmidi": "send", "aiohttp": "web"}


@dataclass(frozen=True)
class Source:
    """One parsed file; ``folder`` is that of ``bridge/``, "" for files outside and in ``bridge/`` itself."""

    path: str
    folder: str
    lines: int
    tree: ast.Module

    def imports(self) -> Iterator[tuple[int, str]]:
        """Line and full name of everything imported anywhere in the file, ``TYPE_CHECKING`` blocks left out."""
        skipped = {id(node) for block in ast.walk(self.tree) if _for_types_only(block) for node in ast.walk(block)}
        for node in ast.walk(self.tree):
            if id(node) in skipped:
                continue
            if isinstance(node, ast.Import):
                yield from ((node.lineno, alias.name) for alias in node.names)
            elif isinstance(node, ast.ImportFrom):
                base = "." * node.level + (node.module or "")
                yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def read_sources(root: Path) -> list[Source]:
    """Every Python file of ``root/bridge``, parsed."""
    found = []
    for path in sorted((root / "bridge").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        parts = path.relative_to(root / "bridge").parts
        folder = parts[0] if len(parts) > 1 else ""
        found.append(Source(path.relative_to(root).as_posix(), folder, text.count("\n"), ast.parse(text)))
    return found


def read_tests(root: Path) -> list[Source]:
    """Every Python file of ``root/tests``, parsed; ``folder`` is empty."""
    found = []
    for path in sorted((root / "tests").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        found.append(Source(path.relative_to(root).as_posix(), "", text.count("\n"), ast.parse(text)))
    return found


def folders_known(sources: list[Source]) -> Iterator[str]:
    """Every folder of ``bridge/`` has its place in the order."""
    for source in sources:
        if source.folder not in ("", *ORDER):
            yield f"{source.path}: the folder {source.folder} has no place in the order of the signal"


def imports_in_order(sources: list[Source]) -> Iterator[str]:
    """A file imports its own folder or an earlier one; never by a relative name, which would hide the folder."""
    for source in sources:
        for line, name in source.imports():
            if name.startswith("."):
                yield f"{source.path}:{line}: relative import {name}"
            target = name.split(".")[1] if name.startswith("bridge.") else ""
            if target in ORDER and source.folder in ("", *ORDER) and _place(target) > _place(source.folder):
                yield f"{source.path}:{line}: {source.folder or 'bridge'} imports {target}, which comes later"


def pure_folders(sources: list[Source]) -> Iterator[str]:
    """A pure folder knows no thread, clock, file or device."""
    for source in sources:
        if source.folder not in PURE:
            continue
        for line, name in source.imports():
            if name.split(".")[0] in IMPURE | WORLDLY:
                yield f"{source.path}:{line}: the pure folder {source.folder} imports {name}"
        for node in ast.walk(source.tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in IMPURE_BUILTINS:
                yield f"{source.path}:{node.lineno}: the pure folder {source.folder} calls {node.func.id}()"


def one_home(sources: list[Source]) -> Iterator[str]:
    """Each library that touches a device is imported in one file only, in its folder."""
    for library, home in ONE_HOME.items():
        users = [source for source in sources if any(name.split(".")[0] == library for _, name in source.imports())]
        for source in users:
            if source.folder != home:
                yield f"{source.path}: imports {library}, which belongs into one file of {home}"
        if len(users) > 1:
            yield f"{library} is imported in {len(users)} files: {', '.join(source.path for source in users)}"


def short_files(sources: list[Source]) -> Iterator[str]:
    """No file is longer than ``MOST_LINES`` lines."""
    for source in sources:
        if source.lines > MOST_LINES:
            yield f"{source.path}: {source.lines} lines, more than {MOST_LINES}"


def documented(sources: list[Source]) -> Iterator[str]:
    """Every file and every public class, function and method says in a docstring what it is."""
    for source in sources:
        if not ast.get_docstring(source.tree):
            yield f"{source.path}:1: no docstring for the file"
        yield from (f"{source.path}:{line}: no docstring for {name}" for line, name in _undocumented(source.tree))


RULES: tuple[Callable[[list[Source]], Iterator[str]], ...] = (
    folders_known,
    imports_in_order,
    pure_folders,
    one_home,
    short_files,
    documented,
)


def _undocumented(node: ast.Module | ast.ClassDef) -> Iterator[tuple[int, str]]:
    """Line and name of what is public in a file or class and has no docstring."""
    for item in node.body:
        if not isinstance(item, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) or item.name.startswith("_"):
            continue
        if not ast.get_docstring(item):
            yield item.lineno, item.name
        if isinstance(item, ast.ClassDef):
            yield from _undocumented(item)


def _for_types_only(node: ast.AST) -> bool:
    """Whether this is an ``if TYPE_CHECKING:`` block, which never runs."""
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def _place(folder: str) -> int:
    """Place in the order; files of ``bridge/`` itself come before every folder."""
    return ORDER.index(folder) if folder else -1
