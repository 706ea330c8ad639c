"""``reedwire board``: what is played, on a page that a class can see."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.cli.cautions import cautions
from bridge.cli.options import (
    A4,
    AnyHarp,
    Follow,
    FollowerName,
    HarpFile,
    MidiPortName,
    OscAddress,
    Position,
    Preset,
    Scale,
    Sets,
    Tune,
    counted,
    settings_from,
)
from bridge.cli.performing import end, perform, tell_trouble
from bridge.wiring.board_opening import open_board
from bridge.wiring.sources import input_source

#: A class looks on, and people talk: what a teacher expects where nothing else is said.
_PRESET = "classroom"
_GRANTED = {"send.midi.port": "none", "send.osc.to": "none"}


def board(
    file: Annotated[
        Path | None, typer.Option("--file", metavar="SOUND", help="Show a recording instead of the microphone.")
    ] = None,
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE", help="Sound input by number or name.")
    ] = None,
    take: Annotated[
        Path | None, typer.Option("--take", metavar="DIR", help="Keep the performance in a new folder inside DIR.")
    ] = None,
    port: Annotated[str | None, typer.Option("--port", metavar="N", help="Port of the page (8350).")] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the address.")] = False,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let others in this network watch: prints an address with a token for them.")
    ] = False,
    seconds: Annotated[
        float | None, typer.Option("--seconds", metavar="N", min=0.1, help="End after that many seconds.")
    ] = None,
    harp: AnyHarp = None,
    harp_file: HarpFile = None,
    harps: Annotated[
        str | None,
        typer.Option("--harps", metavar="KEY|FILE,...", help="A set of harps, changed on the page or by 1 to 9, n, p."),
    ] = None,
    position: Position = None,
    scale: Scale = None,
    a4: A4 = None,
    tune: Tune = None,
    midi: MidiPortName = None,
    osc: OscAddress = None,
    follower: FollowerName = None,
    follow: Follow = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Show what you play on a page, large enough for a class.

    Without --preset it is the classroom's, which is slower to call a sound a note; nothing is sent by MIDI or OSC
    unless --midi or --osc says where. The page is for this machine alone; with --lan others who have the address it
    prints may watch, and only you can steer. A recording begins once a page is open, or with space or Enter. Space
    stops and starts listening, q ends.
    """
    if file is not None and sound is not None:
        raise UserError("--file and --input both say where the sound comes from. Give one of them.")
    if file is not None and not file.is_file():
        raise UserError(f"{file} is no file. Give a recording: --file SOUND")
    settings = settings_from(
        preset or _PRESET,
        sets,
        _GRANTED,
        any_harp=True,
        sound=sound if file is None else str(file),
        web_port=port,
        harp=harp,
        harp_file=harp_file,
        harps=harps,
        position=position,
        scale=scale,
        a4=a4,
        tune=tune,
        midi=midi,
        osc=osc,
        follower=follower,
        follow=follow,
    )
    source = input_source(settings, SystemClock())
    mind = cautions(
        played=source.endless,
        sent=settings.send.midi.port != "none" or settings.send.osc.to != "none",
    )
    shown = open_board(settings, lan=lan, browser=not no_browser)
    report = perform(
        settings,
        lambda: source,
        title="board",
        told=shown.addresses(),
        board=shown,
        cautions=mind,
        seconds=seconds,
        take=take,
    )
    typer.echo(f"{counted(report.notes)} in {report.seconds:.1f} s.")
    tell_trouble(report)
    if report.folder is not None and report.complete:
        typer.echo(f"The take lies in {report.folder}.")
    end(report)
