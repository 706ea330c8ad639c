"""``reedwire transcribe``: recordings, each broken down into a take folder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.errors import UserError
from bridge.base.events import Event
from bridge.base.printable import printable
from bridge.cli.any_harp import with_what_is_found
from bridge.cli.options import (
    A4,
    AnyHarp,
    BarOne,
    Follow,
    FollowerName,
    HarpFile,
    Position,
    Preset,
    Scale,
    Sets,
    TempoWish,
    Tune,
    counted,
    folder_for_takes,
    settings_from,
)
from bridge.cli.progress import progress_bar
from bridge.cli.transcribe_words import bar_lines, bar_warnings, heard_on, live_only_lines, tempo_lines
from bridge.harp.settings import AUTO
from bridge.takes.display_state import DisplayState
from bridge.wiring.harps import harp_in_hand, harp_set
from bridge.wiring.log_file import LOG
from bridge.wiring.offline import GRANTED, TranscribeReport, transcribe_file
from bridge.wiring.on_harp import third_trouble
from bridge.wiring.settings import Settings

_INTERRUPTED = 130
#: Pieces left out are told as one over gaps up to this long, in seconds, and one by one up to so many.
_GAP_S, _MOST_PIECES = 1.0, 3


def transcribe(
    files: Annotated[list[Path], typer.Argument(metavar="FILE", hidden=True)],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder that the takes go into.")],
    listed: Annotated[
        bool, typer.Option("--list", help="Print every note too, one a line; cents are from the note named.")
    ] = False,
    harp: AnyHarp = None,
    harp_file: HarpFile = None,
    position: Position = None,
    scale: Scale = None,
    a4: A4 = None,
    tune: Tune = None,
    tempo: TempoWish = None,
    bar_1: BarOne = None,
    follower: FollowerName = None,
    follow: Follow = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Break recordings down into notes and bends.

    Each FILE, sound or video, gets a take folder of its own in DIR, named after it. The MIDI file states its own bend
    range, 12 semitones where nothing else is set, so that the deepest bend stays one note; for a synth that knows no
    other than 2, give --set send.midi.bend_range=2.
    """
    settings = settings_from(
        preset,
        sets,
        GRANTED,
        any_harp=True,
        harp=harp,
        harp_file=harp_file,
        position=position,
        scale=scale,
        a4=a4,
        tune=tune,
        tempo=tempo,
        bar_1=bar_1,
        follower=follower,
        follow=follow,
    )
    trouble = third_trouble(settings, harp_set(settings.harp).harps[0])
    folder_for_takes(out)
    for line in [*([trouble] if trouble is not None else []), *live_only_lines(settings)]:
        typer.echo(printable(line), err=True)
    failed = 0
    for number, file in enumerate(files, start=1):
        try:
            label = f"{number}/{len(files)} {printable(file.name)}"
            done = _one(file, out, settings, label, listed=listed, said=harp is not None)
        except KeyboardInterrupt:
            left = len(files) - number
            others = f"; {left} {'file was' if left == 1 else 'files were'} not begun" if left else ""
            typer.echo(f"Stopped: {printable(file)} was not finished{others}.", err=True)
            raise typer.Exit(_INTERRUPTED) from None
        failed += not done
    if failed == len(files):
        raise typer.Exit(UserError.exit_status)
    if failed:
        typer.echo(f"{failed} of {len(files)} files could not be transcribed.", err=True)
        raise typer.Exit(1)


def _lister(settings: Settings, lines: list[str]) -> Callable[[Event], None]:
    """What puts every note into ``lines`` when it ends, in words, as the meter says them."""
    state = DisplayState((harp_in_hand(settings.harp),), settings.harp.tab)

    def watch(event: Event) -> None:
        finished = state.take(event)
        if finished is not None:
            lines.append(finished.sentence())

    return watch


def _heedless(_event: Event) -> None:
    """Nobody wants a list."""


def _one(file: Path, out: Path, settings: Settings, label: str, *, listed: bool, said: bool) -> bool:
    """Transcribe one file and say what came of it; False when it could not be done."""
    lines: list[str] = []
    complaint = ""
    found: list[str] = []
    notices: list[str] = []
    for line in bar_warnings(settings.takes, file):
        typer.echo(printable(line), err=True)
    auto = settings.harp.key == AUTO
    with progress_bar(label) as reached:
        try:
            settings, found = with_what_is_found(file, settings, reached)
            watch = _lister(settings, lines) if listed else _heedless
            report = transcribe_file(file, out, settings, reached, watch, notices.append)
        except UserError as error:
            complaint = str(error)
        except Exception as error:  # noqa: BLE001 -- whatever it is, the other files go on
            what = " ".join(f"{type(error).__name__} {error}".split())
            complaint = f"{file}: could not be transcribed, by a fault of reedwire ({what}). Please report it."
    for line in notices:
        typer.echo(printable(line), err=True)
    if complaint:
        LOG.error("%s", complaint)
        typer.echo(f"reedwire: {printable(complaint)}", err=True)
    else:
        heard = heard_on(report.harp, settings.harp, said=said, found=auto)
        tempo = tempo_lines(settings.takes, report.tempo)
        tempo += map(printable, bar_lines(settings.takes, report.seconds, report.folder))
        for line in (_result(file, report, heard), *found, *tempo, *_left_out_lines(report.left_out)):
            typer.echo(line)
        if report.left_out and not report.notes:
            typer.echo("  no harp was heard; --follow any takes whatever has a pitch")
    if listed:
        for line in lines:
            typer.echo(line)
    return not complaint


def _result(file: Path, report: TranscribeReport, heard: str) -> str:
    """What came of a file, ``heard`` on which harp, in one line; a folder that is not named after it is pointed out."""
    wanted = report.folder.with_name(printable(file.stem))
    taken = "" if wanted == report.folder else f" ({wanted.name} was there already)"
    return printable(f"{file}: {counted(report.notes)} in {report.seconds:.1f} s, {heard}, in {report.folder}{taken}")


def _left_out_lines(spans: Sequence[tuple[float, float, str]]) -> list[str]:
    """Where nobody played though something sounded: each piece of a few, the sum of many."""
    pieces: list[tuple[float, float]] = []
    for start_s, end_s, _ in spans:
        if pieces and start_s - pieces[-1][1] <= _GAP_S:
            pieces[-1] = (pieces[-1][0], end_s)
        else:
            pieces.append((start_s, end_s))
    if len(pieces) > _MOST_PIECES:
        seconds = sum(end_s - start_s for start_s, end_s in pieces)
        return [f"  left out: {seconds:.1f} s of talk or noise, in {len(pieces)} pieces (take.yaml says where)"]
    return [f"  left out: {start_s:.1f} to {end_s:.1f} s, talk or noise" for start_s, end_s in pieces]
