"""``reedwire transcribe``: recordings, each broken down into a take folder."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from bridge.base.errors import UserError
from bridge.cli.options import (
    A4,
    FollowerName,
    Harp,
    Position,
    Preset,
    Scale,
    Sets,
    counted,
    folder_for_takes,
    settings_from,
)
from bridge.wiring.offline import transcribe_file
from bridge.wiring.settings import Settings


def transcribe(
    files: Annotated[list[Path], typer.Argument(metavar="FILE", help="Sound files or videos.")],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder that the takes go into.")],
    harp: Harp = None,
    position: Position = None,
    scale: Scale = None,
    a4: A4 = None,
    follower: FollowerName = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Break recordings down into notes and bends.

    Each file gets a take folder of its own in DIR, named after it.
    """
    settings = settings_from(preset, sets, harp=harp, position=position, scale=scale, a4=a4, follower=follower)
    folder_for_takes(out)
    failed = 0
    for number, file in enumerate(files, start=1):
        failed += not _one(file, out, settings, f"{number}/{len(files)} {file.name}")
    if failed == len(files):
        raise typer.Exit(UserError.exit_status)
    if failed:
        typer.echo(f"{failed} of {len(files)} files could not be transcribed.", err=True)
        raise typer.Exit(1)


def _one(file: Path, out: Path, settings: Settings, label: str) -> bool:
    """Transcribe one file and say what came of it; False when it could not be done."""
    try:
        with _progress() as progress:
            task = progress.add_task(label, total=1.0)
            report = transcribe_file(file, out, settings, lambda done: progress.update(task, completed=done))
    except UserError as error:
        typer.echo(f"reedwire: {error}", err=True)
        return False
    typer.echo(f"{file}: {counted(report.notes)} in {report.seconds:.1f} s, in {report.folder}")
    return True


def _progress() -> Progress:
    """A bar on the terminal that goes away when it is done; nothing at all where errors go to no terminal."""
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeRemainingColumn())
    return Progress(*columns, console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty())
