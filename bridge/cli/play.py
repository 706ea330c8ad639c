"""``reedwire play``: from a microphone, or a sound file, to MIDI and OSC while it sounds."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.cli.cautions import CAUTIONS
from bridge.cli.options import (
    A4,
    FollowerName,
    Harp,
    MidiPortName,
    OscAddress,
    Position,
    Preset,
    Scale,
    Sets,
    counted,
    settings_from,
)
from bridge.cli.performing import perform
from bridge.wiring.sources import input_source


def play(
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE|FILE", help="Sound input by number or name, or a file.")
    ] = None,
    midi: MidiPortName = None,
    osc: OscAddress = None,
    seconds: Annotated[
        float | None, typer.Option("--seconds", metavar="N", min=0.1, help="End after that many seconds.")
    ] = None,
    take: Annotated[
        Path | None, typer.Option("--take", metavar="DIR", help="Keep the performance in a new folder inside DIR.")
    ] = None,
    harp: Harp = None,
    position: Position = None,
    scale: Scale = None,
    a4: A4 = None,
    follower: FollowerName = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Play your harp into MIDI and OSC.

    Space stops and starts listening, q ends.
    """
    settings = settings_from(
        preset,
        sets,
        sound=sound,
        midi=midi,
        osc=osc,
        harp=harp,
        position=position,
        scale=scale,
        a4=a4,
        follower=follower,
    )
    for line in CAUTIONS:
        typer.echo(line, err=True)
    report = perform(settings, input_source(settings, SystemClock()), title="play", seconds=seconds, take=take)
    typer.echo(f"{counted(report.notes)} in {report.seconds:.1f} s.")
    if report.lost:
        typer.echo(f"{report.lost} records did not reach the take: the machine was too busy.", err=True)
    if report.folder is not None:
        typer.echo(f"The take lies in {report.folder}.")
