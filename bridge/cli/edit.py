"""``reedwire edit``: the usual wishes, each from a take to a new one. Here are those about the curve of a note."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import typer

from bridge.base.errors import UserError
from bridge.cli.edit_harp import transpose
from bridge.cli.edit_options import (
    Degree,
    DryRun,
    FromTime,
    Name,
    Notes,
    Out,
    Take,
    ToTime,
    choice_of,
    finish,
    open_to_edit,
)
from bridge.cli.edit_time import cut, join, quantise
from bridge.wiring.editing import edit_bends, edit_settled, edit_straight

_MOST_FACTOR = 3.0
#: An octave; above the root every other place is one of these again.
_MOST_CENTS = 1200.0

edit_app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Scale, settle, straighten, quantise, transpose, cut, join.\n\n"
    "Each makes a changed take out of a take, which stays as it is.",
)


def scale_bends(
    take: Take,
    factor: Annotated[float, typer.Argument(metavar="FACTOR", help="0 = straight, 1 = as played, 1.2 = 20 % deeper.")],
    notes: Notes = None,
    degree: Degree = "3",
    from_time: FromTime = None,
    to_time: ToTime = None,
    out: Out = None,
    name: Name = None,
    dry_run: DryRun = False,
) -> None:
    """Make bends deeper or shallower.

    They are scaled around where your own third is straight; those of other degrees (--degree) around their straight
    reed.
    """
    if not 0.0 <= factor <= _MOST_FACTOR:
        raise UserError(f"FACTOR: found {factor:g}, allowed: 0 (straight) to {_MOST_FACTOR:g}; 1 is as played.")
    opened, choice = open_to_edit(take), choice_of(notes, degree, from_time, to_time)
    finish(lambda: edit_bends(opened, choice, factor), out, name, dry_run=dry_run)


def settle(
    take: Take,
    to_cents: Annotated[
        float | None,
        typer.Option("--at", metavar="CENTS", help="So many cents above the root, 0 to 1200."),
    ] = None,
    by_cents: Annotated[
        float | None, typer.Option("--by", metavar="CENTS", help="Or by so many cents, such as -15.")
    ] = None,
    whole: Annotated[
        bool, typer.Option("--whole", help="Move scoop and release along, in place of bending the way to them.")
    ] = False,
    notes: Notes = None,
    degree: Degree = "3",
    from_time: FromTime = None,
    to_time: ToTime = None,
    out: Out = None,
    name: Name = None,
    dry_run: DryRun = False,
) -> None:
    """Move the place where the third settles.

    It still begins, and is let go, where you did that; vibrato stays as wide as it was.
    """
    if (to_cents is None) == (by_cents is None):
        raise UserError("Say where the note shall settle: either --at CENTS above the root, or --by CENTS.")
    for option, cents, least in (("--at", to_cents, 0.0), ("--by", by_cents, -_MOST_CENTS)):
        # The comparison is false of nan as well.
        if cents is not None and not least <= cents <= _MOST_CENTS:
            raise UserError(f"{option}: found {cents:g}, allowed: {least:g} to {_MOST_CENTS:g} cents.")
    opened, choice = open_to_edit(take), choice_of(notes, degree, from_time, to_time)
    edit = partial(edit_settled, opened, choice, to_cents=to_cents, by_cents=by_cents or 0.0, whole=whole)
    finish(edit, out, name, dry_run=dry_run)


def straighten(
    take: Take,
    no_scoop: Annotated[bool, typer.Option("--no-scoop", help="Take out how it was begun as well.")] = False,
    no_release: Annotated[bool, typer.Option("--no-release", help="Take out how it was let go as well.")] = False,
    notes: Notes = None,
    degree: Degree = "all",
    from_time: FromTime = None,
    to_time: ToTime = None,
    out: Out = None,
    name: Name = None,
    dry_run: DryRun = False,
) -> None:
    """Take vibrato and drift out of notes.

    Each is held still where it settles. How it is begun and let go stays, unless told otherwise.
    """
    opened, choice = open_to_edit(take), choice_of(notes, degree, from_time, to_time)
    edit = partial(edit_straight, opened, choice, keep_scoop=not no_scoop, keep_release=not no_release)
    finish(edit, out, name, dry_run=dry_run)


for command in (scale_bends, settle, straighten, quantise, transpose, cut, join):
    edit_app.command()(command)
