"""``reedwire check``: the room's noise, and how the loudspeaker comes back; or the levels of a recording."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.microphone import Microphone
from bridge.cli.cautions import HOWL
from bridge.cli.options import A4, Harp, HarpFile, Preset, Sets, settings_from
from bridge.cli.room_words import loudspeaker_lines, recording_lines, room_lines, why_not
from bridge.follow.room_noise import LearnedRoom
from bridge.wiring.checking import learn_room, measure_loudspeaker, measure_recording, save_gate
from bridge.wiring.settings import Settings

LEARN_S = 5.0


def check(
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE", help="Sound input by number or name.")
    ] = None,
    output: Annotated[
        str, typer.Option("--output", metavar="DEVICE", help="Loudspeaker by number or name.")
    ] = "default",
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Play nothing: learn the room only.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Play the test sound without asking.")] = False,
    seconds: Annotated[
        float, typer.Option("--seconds", metavar="N", min=2.0, max=60.0, help="How long to listen to the room.")
    ] = LEARN_S,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="SOUND", help="Check a recording instead of the room.")
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option("--save", metavar="FILE", help="Keep the gate that was learned as a preset, FILE.yaml."),
    ] = None,
    harp: Harp = None,
    harp_file: HarpFile = None,
    a4: A4 = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Learn the noise of the room, and how the loudspeaker comes back through the microphone.

    Play nothing meanwhile. What is found is printed as settings; --save keeps them in a preset of their own.
    """
    settings = settings_from(preset, sets, sound=sound, harp=harp, harp_file=harp_file, a4=a4)
    if save is not None:
        _may_write(save)
    room = _recording(settings, file) if file is not None else _room(settings, seconds)
    if save is not None and room is not None:
        save_gate(save, room)
        typer.echo(f"Saved. To use it: reedwire play --preset {printable(save)}")
    if room is None:
        raise typer.Exit(1)
    if file is None and not no_sound:
        _loudspeaker(settings, output, room.close_db, asked=yes)


def learned_room(settings: Settings, source: Microphone, seconds: float) -> LearnedRoom | None:
    """Listen to the open ``source`` and say what was learned; None, with the reason told, when nothing could be."""
    typer.echo(f"Play nothing for {seconds:.0f} seconds: the room is being learned.")
    room = learn_room(settings, source, seconds, SystemClock())
    problem = why_not(room)
    if problem is not None:
        typer.echo(problem, err=True)
        return None
    for line in room_lines(room):
        typer.echo(line)
    return room


def _room(settings: Settings, seconds: float) -> LearnedRoom | None:
    """The room through the microphone."""
    with Microphone(settings.capture) as source:
        typer.echo(f"Sound input: {printable(source.name)}, {source.rate} samples a second.")
        if source.rate != settings.capture.rate_hz:
            typer.echo(f"It refuses the {settings.capture.rate_hz} that are set, and is used at its own rate.")
        room = learned_room(settings, source, seconds)
        if source.lost or source.dropouts:
            typer.echo("Some of the sound was lost: the machine was too busy. Close other programs.", err=True)
    return room


def _recording(settings: Settings, file: Path) -> LearnedRoom | None:
    """The levels of a recording; None when they do not tell its noise."""
    levels = measure_recording(settings, file)
    for line in recording_lines(levels):
        typer.echo(line)
    return levels.room() if levels.has_pauses else None


def _loudspeaker(settings: Settings, output: str, close_db: float, *, asked: bool) -> None:
    """Ask, play, and say what came back; ``close_db`` is the gate's that was learned."""
    typer.echo(f"Now the loudspeaker. Turn its volume down first. {HOWL}")
    if not asked and not sys.stdin.isatty():
        typer.echo("Nothing was played, since nobody can be asked here: --yes plays without asking.")
        return
    if not asked and not typer.confirm("Play a few short chirps, quiet ones first?"):
        return
    with Loudspeaker(settings.capture, output) as loudspeaker:
        typer.echo(f"Sound output: {printable(loudspeaker.name)}.")
        measured = measure_loudspeaker(loudspeaker)
        dropouts = loudspeaker.dropouts
    if dropouts:
        typer.echo("Some of the sound was lost: the machine was too busy. Check again.", err=True)
    if measured is None:
        typer.echo("Nothing surely came back: with headphones on this is as it should be.")
        return
    for line in loudspeaker_lines(*measured, close_db=close_db, bleed=settings.quantise.bleed):
        typer.echo(line)


def _may_write(path: Path) -> None:
    """Ask before a file is written over. Raises UserError when it may not be, or lies nowhere."""
    if path.suffix.lower() not in {".yaml", ".yml"}:
        raise UserError(f"--save {path}: a preset needs the ending .yaml.")
    if not path.parent.is_dir():
        raise UserError(f"--save {path}: there is no folder {path.parent}. Make it, or choose another.")
    if path.is_dir():
        raise UserError(f"--save {path}: is a folder. Choose the name of a file.")
    if path.exists() and not (sys.stdin.isatty() and typer.confirm(f"{path} is there already. Write over it?")):
        raise UserError(f"--save {path}: is there already, and was not touched. Choose another name.")
