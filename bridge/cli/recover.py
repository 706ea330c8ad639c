"""``reedwire recover``: a take whose program was stopped, made whole."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.cli.options import counted
from bridge.cli.progress import progress_bar
from bridge.wiring.log_file import LOG
from bridge.wiring.recovering import recover_take


def recover(
    takes: Annotated[list[Path], typer.Argument(metavar="TAKE", hidden=True)],
) -> None:
    """Make whole what a crash or a power cut has left of a take.

    Each TAKE is the folder of one. Notes, tab and MIDI file are made from what was written until then. Only missing
    files are made: what is there, edited or not, stays as it is.
    """
    failed = 0
    for path in takes:
        told: list[str] = []
        try:
            try:
                with progress_bar(printable(path.name)) as progress:
                    done = recover_take(path, told.append, progress)
            finally:
                for line in told:
                    typer.echo(printable(line), err=True)
        except UserError as error:
            LOG.error("%s", error)
            typer.echo(f"reedwire: {printable(str(error))}", err=True)
            failed += 1
            continue
        what = f"made {', '.join(done.made)}" if done.made else "it is whole, nothing was to be made"
        none = "" if done.notes else " It holds no note: none was played, or none had reached the disk."
        typer.echo(printable(f"{path}: {counted(done.notes)} in {done.seconds:.1f} s; {what}.{none}"))
    if failed:
        raise typer.Exit(UserError.exit_status)
