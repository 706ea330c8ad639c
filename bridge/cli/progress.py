"""The bar of long work."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn


def progress_display() -> Progress:
    """A bar on the terminal that goes away when it is done; nothing at all where errors go to no terminal."""
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeRemainingColumn())
    return Progress(*columns, console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty())


@contextmanager
def working(label: str) -> Iterator[None]:
    """A bar called ``label`` that only moves, for work of which nobody knows how far it is."""
    with progress_display() as progress:
        progress.add_task(label, total=None)
        yield


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[float], None]]:
    """A bar called ``label``; what comes back is told the part done, 0..1."""
    with progress_display() as progress:
        task = progress.add_task(label, total=1.0)
        yield lambda done: progress.update(task, completed=done)
