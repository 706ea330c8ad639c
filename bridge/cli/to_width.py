"""Text whose words stay whole where a terminal is narrower than its lines; in a pipe or a file it stays as it is."""

from __future__ import annotations

import shutil
import sys
import textwrap
from typing import TextIO

import typer

#: Before a setting, and what stands for its space while lines are made.
_OPTION, _KEPT = "--set ", "\N{NO-BREAK SPACE}"


def wrapped(text: str, width: int, first: str = "") -> list[str]:
    """The text behind ``first``, in lines between whose words a setting is never torn from its option."""
    lines = textwrap.wrap(
        text.replace(_OPTION, _OPTION.replace(" ", _KEPT)),
        width,
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_KEPT, " ") for line in lines]


def to_width(text: str, stream: TextIO) -> str:
    """The text, line by line, as wide as the terminal that ``stream`` writes to; as it is where that is none."""
    if not stream.isatty():
        return text
    columns = shutil.get_terminal_size().columns
    return "\n".join("\n".join(wrapped(line, columns)) for line in text.split("\n"))


def say(text: str, *, err: bool = False) -> None:
    """Print the text on standard output, or on standard error, to the width of the terminal."""
    typer.echo(to_width(text, sys.stderr if err else sys.stdout), err=err)
