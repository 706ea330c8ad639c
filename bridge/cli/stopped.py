"""Ctrl-C in a command that listens for a while, told in one plain line."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn

import typer

from bridge.cli.to_width import say

#: What a shell says of a program that Ctrl-C has ended (manual of bash: 128 and the number of the signal).
INTERRUPTED = 130


@contextmanager
def told_when_stopped(line: str) -> Iterator[None]:
    """Inside, Ctrl-C, also instead of an answer to a question, says ``line`` and ends with status 130."""
    try:
        yield
    except (KeyboardInterrupt, typer.Abort):
        end_stopped(line)


def end_stopped(line: str) -> NoReturn:
    """Say ``line`` on standard error, and end with status 130. Raises typer.Exit."""
    if sys.stderr.isatty():
        # The terminal has just shown ^C, or a question that has no answer now.
        typer.echo(err=True)
    say(line, err=True)
    raise typer.Exit(INTERRUPTED)
