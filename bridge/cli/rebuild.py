"""``reedwire rebuild``: what a take's tables say now, as MIDI file, tab, score and sound."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.printable import printable
from bridge.cli.asked_tempo import asked_tempo
from bridge.cli.options import counted
from bridge.cli.progress import progress_bar
from bridge.takes.taking_back import TakenBack
from bridge.takes.tempo_choice import KnownTempo
from bridge.wiring.opening import OpenedTake
from bridge.wiring.rebuilding import Rebuilt, rebuild_take

#: So many notes are named one by one.
_MOST_TOLD = 8


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
    tempo: Annotated[
        str | None,
        typer.Option("--tempo", metavar="N|auto", help="Give the take this tempo, quarters a minute, for the score."),
    ] = None,
    bar_1: Annotated[
        str | None,
        typer.Option("--bar-1", metavar="TIME", help="Where bar 1 begins; else as it is, or first note."),
    ] = None,
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Leave resung.wav as it is.")] = False,
) -> None:
    """Make the other files anew after notes.csv was edited.

    Or inflections.csv. The files are the MIDI file, the tab, the score, and resung.wav: your own sound, sung again to
    the edited curves; of edited notes the degree and the reed in notes.csv too. A spreadsheet may have saved the
    tables. All that is wrong in them is told, and nothing is written over until everything is right; the files that
    were there are kept in TAKE/before.
    """
    told: list[str] = []

    def asked(opened: OpenedTake) -> KnownTempo:
        return asked_tempo(opened, tempo, bar_1, told.append)

    with progress_bar(printable(take.name)) as progress:
        done = rebuild_take(
            take,
            told.append,
            from_midi=from_midi,
            mpe=mpe,
            sing=not no_sound,
            tempo_of=asked if tempo is not None or bar_1 is not None else None,
            progress=progress,
        )
    for line in told:
        typer.echo(printable(line), err=True)
    if done.taken is not None and from_midi is not None:
        typer.echo(printable(f"{from_midi}: {_taken(done.taken)}."))
    if done.told:
        typer.echo(_told(done.told))
    typer.echo(printable(f"{take}: {counted(done.notes)} in {done.seconds:.1f} s; {_made(done)}{_soundless(done)}."))


def _told(ids: frozenset[int]) -> str:
    """Which notes the table tells otherwise than it was left."""
    named = [str(number) for number in sorted(ids)]
    more = f" and {len(named) - _MOST_TOLD} more" if len(named) > _MOST_TOLD else ""
    which = f"note{'' if len(named) == 1 else 's'} {', '.join(named[:_MOST_TOLD])}{more}"
    return f"notes.csv: degree and reed told anew after your edits: {which}."


def _made(done: Rebuilt) -> str:
    """What was written, and where the versions before are."""
    played = "; nothing is edited, so performance.mid is as it was played" if done.as_played else ""
    if not done.changed:
        kept = "" if done.before is None else f"; the tables before are in {done.before}"
        return f"all files say so already, nothing was written{kept}{played}"
    kept = "" if done.before is None else f"; what was there before is in {done.before}"
    return f"wrote {', '.join(done.changed)}{kept}{played}"


def _soundless(done: Rebuilt) -> str:
    return "; resung.wav was left out, as the take has no sound.wav to sing from" if done.soundless else ""


def _taken(taken: TakenBack) -> str:
    """What was taken back."""
    counts = {"edited": taken.edited, "added": taken.added, "removed": taken.removed}
    said = [f"{counted(len(ids))} {what}" for what, ids in counts.items() if ids]
    return ", ".join(said) or "no note differs from the tables"
