"""``reedwire rebuild``: what a take's tables say now, as MIDI file, tab, score and sound."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.printable import printable
from bridge.cli.options import counted
from bridge.cli.progress import progress_bar
from bridge.takes.taking_back import TakenBack
from bridge.wiring.rebuilding import Rebuilt, rebuild_take


def rebuild(
    take: Annotated[Path, typer.Argument(metavar="TAKE", help="Folder of a take.")],
    from_midi: Annotated[
        Path | None,
        typer.Option(
            "--from",
            metavar="FILE.mid",
            help="First take back into the tables what was edited in this MIDI file, such as TAKE/performance.mid.",
        ),
    ] = None,
    mpe: Annotated[
        bool, typer.Option("--mpe", help="Write the MIDI file for MPE: each note on a channel of its own.")
    ] = False,
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Leave resung.wav as it is.")] = False,
) -> None:
    """Make all files anew that follow from notes.csv and inflections.csv, after these were edited.

    These are the MIDI file, the tab, the score, and resung.wav: your own sound, sung again to the edited curves.
    A spreadsheet may have saved the tables. All that is wrong in them is told, and nothing is written over until
    everything is right; the files that were there are kept in TAKE/before.
    """
    told: list[str] = []
    with progress_bar(printable(take.name)) as progress:
        done = rebuild_take(take, told.append, from_midi=from_midi, mpe=mpe, sing=not no_sound, progress=progress)
    for line in told:
        typer.echo(printable(line), err=True)
    if done.taken is not None and from_midi is not None:
        typer.echo(printable(f"{from_midi}: {_taken(done.taken)}."))
    typer.echo(printable(f"{take}: {counted(done.notes)} in {done.seconds:.1f} s; {_made(done)}."))


def _made(done: Rebuilt) -> str:
    """What was written, and where the versions before are."""
    if not done.changed:
        return "all files say so already, nothing was written"
    kept = "" if done.before is None else f"; what was there before is in {done.before}"
    return f"wrote {', '.join(done.changed)}{kept}"


def _taken(taken: TakenBack) -> str:
    """What was taken back."""
    counts = {"edited": taken.edited, "added": taken.added, "removed": taken.removed}
    said = [f"{counted(len(ids))} {what}" for what, ids in counts.items() if ids]
    return ", ".join(said) or "no note differs from the tables"
