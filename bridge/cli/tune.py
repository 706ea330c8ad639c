"""``reedwire tune``: the pitch of a harp's own reeds, heard and written into a file for that harp."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.commands import Stop
from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.capture.microphone import Microphone
from bridge.capture.source import Source
from bridge.cli.cautions import ADVICE, BREATH
from bridge.cli.keys import Keys
from bridge.cli.options import A4, Harp, Position, Preset, Sets, settings_from
from bridge.cli.tune_words import heard_line, more_line, opening_lines, other_key_line, step_line, tuning_lines, why_not
from bridge.study.straight import Judged
from bridge.study.tuning_lesson import Lesson
from bridge.wiring.meter_process import key_terminal
from bridge.wiring.settings import Settings
from bridge.wiring.tuning import DONE_S, file_of, listen, new_lesson, recording_to_tune, save_harp_file, tuned_harp


def tune(
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE", help="Sound input by number or name.")
    ] = None,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="SOUND", help="Listen to a recording instead of the microphone.")
    ] = None,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="File of the harp, FILE.yaml.")] = Path(
        "my-harp.yaml"
    ),
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Write over a file that is there already.")] = False,
    harp: Harp = None,
    position: Position = None,
    a4: A4 = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Learn how your own harp is tuned: its A4, its reeds, and how their pitch falls with breath.

    You are asked for the straight root, third and fifth, each softly and hard; then any other straight reeds, if you
    like. Blowing and drawing hard for long can make you light-headed: stop and rest, it waits three minutes for each
    note. A qualified person's advice comes first.
    """
    settings = settings_from(preset, sets, sound=sound, harp=harp, position=position, a4=a4)
    lesson = new_lesson(settings)
    _may_write(out, overwrite=overwrite)
    if file is None:
        _guided(settings, lesson)
    else:
        with recording_to_tune(settings, file) as source:
            _hear(settings, source, lesson)
            source.require_sound()
    if lesson.step is not None:
        raise UserError(why_not(lesson))
    tuning = lesson.tuning()
    found = file_of(lesson.harp, tuning)
    for line in tuning_lines(tuning, lesson.harp, tuned_harp(found, lesson.harp.position)):
        typer.echo(line)
    save_harp_file(out, found)
    typer.echo(f"Written to {printable(out)}. To use it: reedwire play --harp-file {printable(out)}")


def _guided(settings: Settings, lesson: Lesson) -> None:
    """Listen to the microphone, and ask for one note after the other."""
    with Microphone(settings.capture) as source, Keys(key_terminal()) as keys:
        typer.echo(f"Sound input: {printable(source.name)}, {source.rate} samples a second.")
        typer.echo(f"{BREATH}\n{ADVICE}")
        _hear(
            settings,
            source,
            lesson,
            ask=True,
            stopped=lambda: any(isinstance(command, Stop) for command in keys.commands()),
        )
        if source.lost or source.dropouts:
            typer.echo("Some of the sound was lost: the machine was too busy. Close other programs.", err=True)


def _hear(
    settings: Settings,
    source: Source,
    lesson: Lesson,
    *,
    ask: bool = False,
    stopped: Callable[[], bool] = lambda: False,
) -> None:
    """Listen, and say of each note what became of it and, if ``ask``, what comes next."""
    asked = lesson.step

    def next_step() -> None:
        if ask:
            typer.echo(more_line(lesson, DONE_S) if lesson.step is None else step_line(lesson.step, lesson.harp))

    def tell(judged: Judged) -> None:
        nonlocal asked
        if judged.fault == "voice":
            return  # who talks between the notes needs not be told so each time
        typer.echo(heard_line(judged, lesson.harp, asked, lesson.step))
        if asked is not None or lesson.step is not None:
            next_step()
        asked = lesson.step
        if ask and (other := lesson.other_key) is not None:
            typer.echo(other_key_line(other, lesson))

    for line in opening_lines(lesson):
        typer.echo(line)
    next_step()
    listen(settings, source, lesson, tell, SystemClock(), stopped)


def _may_write(path: Path, *, overwrite: bool) -> None:
    """Ask before a file is written over. Raises UserError when it may not be, or lies nowhere."""
    if path.suffix.lower() not in {".yaml", ".yml"}:
        raise UserError(f"--out {path}: the file of a harp needs the ending .yaml.")
    if not path.parent.is_dir():
        raise UserError(f"--out {path}: there is no folder {path.parent}. Make it, or choose another.")
    if path.is_dir():
        raise UserError(f"--out {path}: is a folder. Choose the name of a file.")
    if overwrite or not path.exists():
        return
    if not (sys.stdin.isatty() and typer.confirm(f"{path} is there already. Write over it?")):
        raise UserError(f"--out {path}: is there already, and was not touched. Choose another, or say --overwrite.")
