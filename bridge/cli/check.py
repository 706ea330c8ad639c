"""``reedwire check``: the room's noise, and how the loudspeaker comes back; or the levels of a recording."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.microphone import Microphone
from bridge.capture.source import Source
from bridge.cli.cautions import HOWL
from bridge.cli.new_file import may_write
from bridge.cli.options import A4, Harp, HarpFile, Preset, Sets, settings_from
from bridge.cli.room_words import loudspeaker_lines, recording_lines, room_lines, why_not
from bridge.cli.stopped import told_when_stopped
from bridge.follow.room_noise import LearnedRoom
from bridge.wiring.checking import learn_room, measure_loudspeaker, measure_recording, save_gate
from bridge.wiring.settings import Settings

LEARN_S = 5.0


def check(
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE", help="Sound input by number or name.")
    ] = None,
    output: Annotated[
        str | None,
        typer.Option("--output", metavar="DEVICE", help="Loudspeaker by number or name; else the system's own."),
    ] = None,
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Play nothing: learn the room only.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Play the test sound without asking.")] = False,
    seconds: Annotated[
        float | None,
        typer.Option(
            "--seconds",
            metavar="N",
            min=2.0,
            max=60.0,
            help=f"Listen to the room so long ({LEARN_S:.0f} unless told), or look only at the first N of a recording.",
        ),
    ] = None,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="SOUND", help="Check a recording instead of the room.")
    ] = None,
    save: Annotated[
        Path | None,
        typer.Option("--save", metavar="FILE", help="Keep the gate that was learned as a preset, FILE.yaml."),
    ] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Write over a preset that is there already.")] = False,
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
    if file is not None:
        _require_no_devices({"--input": sound is not None, "--output": output is not None, "--yes": yes})
    with told_when_stopped("Stopped; nothing was written."):
        if save is not None:
            may_write(save, "--save", "a preset", overwrite=overwrite)
        room = _room(settings, seconds or LEARN_S) if file is None else _recording(settings, file, seconds)
    if room is None:
        if save is not None:
            typer.echo("Nothing was saved.", err=True)
        raise typer.Exit(1)
    if save is not None:
        save_gate(save, room)
        typer.echo(f"Saved. To use it: reedwire play --preset {shlex.quote(printable(save))}")
    if file is None and not no_sound:
        with told_when_stopped("Stopped before the loudspeaker was measured. What is said of the room holds."):
            _loudspeaker(settings, output or "default", room.close_db, asked=yes)


def learned_room(settings: Settings, source: Source, seconds: float) -> LearnedRoom | None:
    """Listen to the open ``source`` and say what was learned; None, with the reason told, when nothing could be."""
    typer.echo(f"Play nothing for {seconds:g} seconds: the room is being learned.")
    with told_when_stopped("Stopped before the room was learned; nothing was written."):
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


def _recording(settings: Settings, file: Path, seconds: float | None) -> LearnedRoom | None:
    """The levels of a recording, of its first ``seconds`` if given; None when they do not tell its noise."""
    levels = measure_recording(settings, file, seconds)
    for line in recording_lines(levels, first=seconds is not None and levels.seconds >= seconds):
        typer.echo(line)
    return levels.room() if levels.has_pauses else None


def _require_no_devices(given: Mapping[str, bool]) -> None:
    """Raise UserError when any of the options was ``given``: a recording is looked at without a sound card."""
    for option in (name for name, was_given in given.items() if was_given):
        raise UserError(f"--file looks at a recording, without a sound card: leave {option} out, or --file.")


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
