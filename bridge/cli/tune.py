"""``reedwire tune``: the pitch of a harp's own reeds, heard and written into a file for that harp."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
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
from bridge.cli.new_file import may_write
from bridge.cli.options import A4, Harp, Position, Preset, Sets, settings_from
from bridge.cli.stopped import end_stopped, told_when_stopped
from bridge.cli.tune_words import heard_line, more_line, opening_lines, other_key_line, step_line, tuning_lines, why_not
from bridge.study.straight import Judged
from bridge.study.tuning_lesson import Lesson
from bridge.wiring.meter_process import key_terminal
from bridge.wiring.settings import Settings
from bridge.wiring.steady import stop_on_signals
from bridge.wiring.tuning import DONE_S, file_of, listen, new_lesson, recording_to_tune, save_harp_file, tuned_harp

_CROSS = 2
_STOPPED = "Stopped; nothing was written."
_COULD_NOT_KEEP_UP = "The sound system could not keep up, some sound may be lost. Close other programs."


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
    """Learn how your own harp is tuned, reed by reed.

    That is its A4, the pitch of its reeds, and how it falls with breath.
    You are asked for the straight root, third and fifth, each softly and hard; then any other straight reeds, if you
    like. q or Ctrl-C ends it. Blowing and drawing hard for long can make you light-headed: stop and rest, it waits
    three minutes for each note. A qualified person's advice comes first.
    """
    settings = settings_from(preset, sets, sound=sound, harp=harp, position=position, a4=a4)
    if file is not None and sound is not None:
        raise UserError("--file listens to a recording, without a sound card: leave --input out, or --file.")
    lesson = new_lesson(settings)
    with told_when_stopped(_STOPPED):
        may_write(out, "--out", "the file of a harp", overwrite=overwrite)
        if file is None:
            _guided(settings, lesson)
        else:
            with recording_to_tune(settings, file) as source:
                _hear(settings, source, lesson, opening_lines(lesson, recorded=True))
                source.require_sound()
    if lesson.step is not None:
        raise UserError(why_not(lesson))
    tuning = lesson.tuning()
    found = file_of(lesson.harp, tuning)
    for line in tuning_lines(tuning, lesson.harp, tuned_harp(found, lesson.harp.position)):
        typer.echo(line)
    save_harp_file(out, found)
    # A harp file is of the harp alone: it can be played in any position.
    played = "" if lesson.harp.position == _CROSS else f" --position {lesson.harp.position}"
    use = f"reedwire play --harp-file {shlex.quote(printable(out))}{played}"
    typer.echo(f"Written to {printable(out)}. To use it: {use}")


def _guided(settings: Settings, lesson: Lesson) -> None:
    """Listen to the microphone, and ask for one note after the other. Raises typer.Exit when stopped too early.

    Ctrl-C ends it like q: what is known by then is not thrown away.
    """
    with Microphone(settings.capture) as source, Keys(key_terminal()) as keys, stop_on_signals() as stop:
        typer.echo(f"Sound input: {printable(source.name)}, {source.rate} samples a second.")
        typer.echo(f"{BREATH}\n{ADVICE}")

        def stopped() -> bool:
            return stop.wanted or any(isinstance(command, Stop) for command in keys.commands())

        _hear(settings, source, lesson, opening_lines(lesson), stopped)
        if source.lost:
            typer.echo("Some of the sound was lost: the machine was too busy. Close other programs.", err=True)
        elif source.dropouts:
            typer.echo(_COULD_NOT_KEEP_UP, err=True)
    if stop.wanted and lesson.step is not None:
        end_stopped(_STOPPED)


def _hear(
    settings: Settings,
    source: Source,
    lesson: Lesson,
    opening: Sequence[str],
    stopped: Callable[[], bool] = lambda: False,
) -> None:
    """Listen, and say of each note what became of it and, if the source is live, what comes next."""
    asked = lesson.step

    def next_step() -> None:
        if source.live:
            typer.echo(more_line(lesson, DONE_S) if lesson.step is None else step_line(lesson.step, lesson.harp))

    def tell(judged: Judged) -> None:
        nonlocal asked
        if judged.fault == "voice":
            return  # who talks between the notes needs not be told so each time
        line = heard_line(judged, lesson.harp, asked, lesson.step)
        typer.echo(line if source.live else f"{judged.tone.start_s:7.1f} s{line}")
        if asked is not None or lesson.step is not None:
            next_step()
        asked = lesson.step
        if source.live and (other := lesson.other_key) is not None:
            typer.echo(other_key_line(other, lesson))

    for line in opening:
        typer.echo(line)
    next_step()
    listen(settings, source, lesson, tell, SystemClock(), stopped)
