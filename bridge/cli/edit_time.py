"""The edits about time: ``reedwire edit quantise``, ``cut`` and ``join``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.errors import UserError
from bridge.cli.asked_tempo import asked_tempo
from bridge.cli.edit_options import DryRun, FromTime, Name, Out, Take, ToTime, finish, open_to_edit
from bridge.cli.take_times import parse_time
from bridge.takes.moving import MOST_SWING, STRAIGHT
from bridge.wiring.editing import edit_starts
from bridge.wiring.splicing import edit_cut, edit_join

#: Quarters from one beat of each grid to the next.
_GRIDS = {"1/4": 1.0, "1/8": 0.5, "1/8t": 1 / 3, "1/16": 0.25, "1/16t": 1 / 6, "1/32": 0.125}


def quantise(
    take: Take,
    tempo: Annotated[
        str | None,
        typer.Option(
            "--tempo", metavar="BPM|auto", help="Quarters a minute, auto estimates it; else that of the take."
        ),
    ] = None,
    bar_1: Annotated[
        str | None,
        typer.Option("--bar-1", metavar="TIME", help="When bar 1 begins; else as in the take, or at the first note."),
    ] = None,
    grid: Annotated[
        str, typer.Option("--grid", metavar="NOTE", help=f"Beats to go to: {', '.join(_GRIDS)} (t = triplets).")
    ] = "1/8",
    swing: Annotated[
        float,
        typer.Option(
            "--swing",
            metavar="X",
            help=f"Where the second of two beats lies: {STRAIGHT:g} straight, 0.667 triplets, up to {MOST_SWING:g}.",
        ),
    ] = STRAIGHT,
    strength: Annotated[
        float, typer.Option("--strength", metavar="X", help="How far to go: 1 all the way, 0 not at all.")
    ] = 1.0,
    out: Out = None,
    name: Name = None,
    dry_run: DryRun = False,
) -> None:
    """Bring the starts of notes to the beats of a tempo.

    Lengths and rests follow. Of several notes nearest to one beat one goes there: quick runs stay runs.
    """
    if grid not in _GRIDS:
        raise UserError(f"--grid: found {grid!r}, allowed: {', '.join(_GRIDS)}.")
    if not 0.0 <= strength <= 1.0:
        raise UserError(f"--strength: found {strength:g}, allowed: 0 to 1.")
    opened = open_to_edit(take)
    known = asked_tempo(opened, tempo, bar_1, typer.echo)
    finish(lambda: edit_starts(opened, known, _GRIDS[grid], swing, strength), out, name, dry_run=dry_run)


def cut(
    take: Take,
    from_time: FromTime = None,
    to_time: ToTime = None,
    out: Out = None,
    name: Name = None,
    dry_run: DryRun = False,
) -> None:
    """Keep only a part of a take, with its sound.

    The sound is cut to the sample. A note that crosses a cut is cut there.
    """
    if from_time is None and to_time is None:
        raise UserError("Say what to keep: --from TIME, --to TIME, or both.")
    from_s = 0.0 if from_time is None else parse_time(from_time, "--from")
    to_s = None if to_time is None else parse_time(to_time, "--to")
    opened = open_to_edit(take)
    finish(lambda: edit_cut(opened, from_s, to_s), out, name, dry_run=dry_run)


def join(
    takes: Annotated[list[Path], typer.Argument(metavar="TAKE TAKE...", help="Folders of takes, in order.")],
    gap: Annotated[float, typer.Option("--gap", metavar="SECONDS", help="Silence between two of them.")] = 0.0,
    out: Out = None,
    name: Name = None,
    dry_run: DryRun = False,
) -> None:
    """Set takes one after another, with their sound.

    The two halves of a cut become what was cut.
    """
    opened = [open_to_edit(take) for take in takes]
    finish(lambda: edit_join(opened, gap), out, name, dry_run=dry_run)
