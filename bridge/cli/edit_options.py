"""What the edits of a take have in common: which notes, where the new take goes, and only to look."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, TypeAlias

import typer

from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.cli.edit_words import difference_lines, summary
from bridge.cli.options import folder_for_takes
from bridge.cli.progress import progress_bar, working
from bridge.cli.take_times import parse_time
from bridge.takes.choosing import Choice, parse_degrees, parse_ids
from bridge.wiring.edited_take import usual_name, write_edited
from bridge.wiring.editing import Edit
from bridge.wiring.opening import OpenedTake, opened_take

Take: TypeAlias = Annotated[Path, typer.Argument(metavar="TAKE", help="Folder of a take; it stays as it is.")]
Notes: TypeAlias = Annotated[
    str | None, typer.Option("--notes", metavar="3,5-9", help="Only these notes, by their number in notes.csv.")
]
Degree: TypeAlias = Annotated[
    str,
    typer.Option("--degree", metavar="3,5|all", help="Only notes that dwell on these degrees; 3 takes b3 with it."),
]
FromTime: TypeAlias = Annotated[
    str | None, typer.Option("--from", metavar="TIME", help="From there on: seconds, or minutes as in 1:02.5.")
]
ToTime: TypeAlias = Annotated[str | None, typer.Option("--to", metavar="TIME", help="Up to there.")]
Out: TypeAlias = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Folder that the new take goes into; else beside the old one."),
]
Name: TypeAlias = Annotated[
    str | None, typer.Option("--name", metavar="NAME", help="Name of the new take; else the old one's and the edit's.")
]
DryRun: TypeAlias = Annotated[bool, typer.Option("--dry-run", help="Only show what would change; write nothing.")]


def open_to_edit(path: Path) -> OpenedTake:
    """The take in that folder; what had to be mended is told on standard error."""
    told: list[str] = []
    try:
        with progress_bar(printable(path.name)) as progress:
            return opened_take(path, told.append, progress)
    finally:
        for line in told:
            _tell(line)


def choice_of(notes: str | None, degree: str, from_time: str | None, to_time: str | None) -> Choice:
    """The notes that these options mean. Raises UserError for what none of them can be."""
    choice = Choice(
        None if notes is None else parse_ids(notes),
        None if degree == "all" else parse_degrees(degree),
        0.0 if from_time is None else parse_time(from_time, "--from"),
        float("inf") if to_time is None else parse_time(to_time, "--to"),
    )
    if not choice.from_s < choice.to_s:
        raise UserError(f"--from {from_time} and --to {to_time}: nothing lies between them. Let --from be the earlier.")
    return choice


def finish(make: Callable[[], Edit], out: Path | None, name: str | None, *, dry_run: bool) -> None:
    """Make an edit; then show what it changes, or write its new take and say where that lies."""
    with working("edit"):
        edit = make()
        lines = difference_lines(edit) if dry_run else []
    for line in edit.told:
        _tell(line)
    if dry_run:
        for line in lines:
            typer.echo(printable(line))
        typer.echo(f"{summary(edit)} Nothing was written.")
        return
    parent = folder_for_takes(edit.takes[0].folder.path.resolve().parent if out is None else out)
    wanted = name or usual_name(edit)
    with progress_bar(printable(wanted)) as progress:
        folder = write_edited(edit, parent, wanted, _tell, progress)
    typer.echo(f"{summary(edit)} The new take lies in {folder.path}.")


def _tell(text: str) -> None:
    typer.echo(printable(text), err=True)
