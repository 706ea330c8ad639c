"""``reedwire play``: from a microphone, or a sound file, to MIDI and OSC while it sounds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.cli.cautions import cautions
from bridge.cli.check import LEARN_S, learned_room
from bridge.cli.options import (
    A4,
    AnyHarp,
    BarOne,
    Follow,
    FollowerName,
    HarpFile,
    MidiPortName,
    OscAddress,
    Position,
    Preset,
    Scale,
    Sets,
    TempoWish,
    Tune,
    counted,
    settings_from,
)
from bridge.cli.performing import end, perform, tell_trouble
from bridge.wiring.checking import with_gate
from bridge.wiring.log_file import LOG
from bridge.wiring.settings import Settings
from bridge.wiring.sources import input_source


def play(
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE|FILE", help="Sound input by number or name, or a file.")
    ] = None,
    midi: MidiPortName = None,
    osc: OscAddress = None,
    footswitch: Annotated[
        str | None,
        typer.Option("--footswitch", metavar="PORT|virtual", help="MIDI port of a footswitch that starts listening."),
    ] = None,
    harp_pedal: Annotated[
        str | None,
        typer.Option("--harp-pedal", metavar="PORT|virtual", help="MIDI port whose program changes take another harp."),
    ] = None,
    learn_room: Annotated[
        bool, typer.Option("--learn-room", help="First listen to the room for five seconds, and set the gate by it.")
    ] = False,
    seconds: Annotated[
        float | None, typer.Option("--seconds", metavar="N", min=0.1, help="End after that many seconds.")
    ] = None,
    take: Annotated[
        Path | None, typer.Option("--take", metavar="DIR", help="Keep the performance in a new folder inside DIR.")
    ] = None,
    harp: AnyHarp = None,
    harp_file: HarpFile = None,
    harps: Annotated[
        str | None,
        typer.Option("--harps", metavar="KEY|FILE,...", help="A set of harps, changed by 1 to 9, n, p, MIDI and OSC."),
    ] = None,
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
    """Play your harp into MIDI and OSC.

    Space stops and starts listening, q ends. A footswitch on a MIDI port, or any other key, can do the same: see
    send.arm in the settings. With a set of harps (--harps C,A,low-D or harp files) the keys 1 to 9 take the harp at
    that place, n the next and p the previous one; a pedal can do so too, see send.harp. With --take, t tapped four
    times or more in time says the tempo, from the first tap on: the bars of the score begin there.

    --harp auto listens to a phrase, sends nothing meanwhile, and goes on with the harp that it was. --tune auto brings
    A4 to where your straight roots have it, a little in each rest, never inside a note.
    """
    settings = settings_from(
        preset,
        sets,
        any_harp=True,
        sound=sound,
        midi=midi,
        osc=osc,
        footswitch=footswitch,
        harp_pedal=harp_pedal,
        harp=harp,
        harp_file=harp_file,
        harps=harps,
        position=position,
        scale=scale,
        a4=a4,
        tune=tune,
        tempo=tempo,
        bar_1=bar_1,
        follower=follower,
        follow=follow,
    )
    if learn_room:
        settings = _with_learned_room(settings)
    source = input_source(settings, SystemClock())
    mind = cautions(
        played=source.endless,
        sent=settings.send.midi.port != "none" or settings.send.osc.to != "none",
    )
    report = perform(settings, lambda: source, title="play", cautions=mind, seconds=seconds, take=take)
    LOG.info("ended: %s", replace(report, timing=None))
    typer.echo(f"{counted(report.notes)} in {report.seconds:.1f} s.")
    tell_trouble(report)
    if report.folder is None:
        typer.echo("Not kept; --take DIR keeps a performance.")
    elif report.complete:
        typer.echo(f"The take lies in {report.folder}.")
    end(report)


def _with_learned_room(settings: Settings) -> Settings:
    """The settings with the gate that the room asks for; as they were when it cannot be learned, which is told."""
    source = input_source(settings, SystemClock())
    if not source.endless:
        raise UserError("--learn-room needs a microphone; of a recording reedwire check --file SOUND tells the gate.")
    with source:
        room = learned_room(settings, source, LEARN_S)
    return settings if room is None else with_gate(settings, room)
