"""``reedwire check``: one page for a sound check; or the levels of a recording."""

from __future__ import annotations

import shlex
import shutil
import sys
import time
from collections.abc import Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.capture.loudspeaker import Loudspeaker
from bridge.capture.source import Source
from bridge.cli.asked_to_stop import AskedToStop
from bridge.cli.cautions import HOWL
from bridge.cli.check_page import WIDEST, page
from bridge.cli.check_synth import Synth
from bridge.cli.keys import Keys
from bridge.cli.new_file import may_write
from bridge.cli.options import A4, Harp, HarpFile, MidiPortName, Preset, Sets, settings_from
from bridge.cli.room_words import hum_line, loudspeaker_lines, recording_lines, room_lines, why_not
from bridge.cli.stopped import end_stopped, told_when_stopped
from bridge.follow.room_noise import LearnedRoom
from bridge.wiring.card import Card
from bridge.wiring.checking import learn_room, measure_loudspeaker, measure_recording, save_gate
from bridge.wiring.meter_process import key_terminal
from bridge.wiring.settings import Settings
from bridge.wiring.sound_check import Checked, SoundCheck
from bridge.wiring.steady import stop_on_signals

#: How long the room and then the player are listened to, in seconds.
LEARN_S, PLAY_S = 5.0, 12.0
_NOT_LEARNED = "Stopped before the room was learned; nothing was written."


def check(
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE", help="Sound input by number or name.")
    ] = None,
    output: Annotated[
        str | None,
        typer.Option("--output", metavar="DEVICE", help="Loudspeaker by number or name; else the system's own."),
    ] = None,
    midi: MidiPortName = None,
    room_only: Annotated[
        bool, typer.Option("--room-only", help="Learn the room and nothing else: neither you nor the loudspeaker.")
    ] = False,
    no_sound: Annotated[bool, typer.Option("--no-sound", help="Leave the loudspeaker out.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Play the test sounds without asking.")] = False,
    seconds: Annotated[
        float | None,
        typer.Option(
            "--seconds",
            metavar="N",
            min=2.0,
            max=60.0,
            help=f"Listen so long to the room and then to you ({LEARN_S:.0f} and {PLAY_S:.0f} unless told), or look "
            "only at the first N of a recording.",
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
    """Check the sound before you play, and say on one page what to change.

    First play nothing: the room is learned. Then play, and it sees level, timing and delay. With --midi PORT the synth
    plays a semitone by notes and by a bend; if you let it, the loudspeaker is measured. q ends the listening sooner,
    Ctrl-C all of it. --save keeps the gate that keeps the noise out in a preset of its own.
    """
    settings = settings_from(preset, sets, sound=sound, harp=harp, harp_file=harp_file, a4=a4, midi=midi)
    sounds = {"--output": output, "--midi": midi, "--yes": yes}
    if file is not None:
        without = "--file looks at a recording, without a sound card"
        _require_none({"--input": sound, **sounds, "--room-only": room_only}, without, "--file")
    if room_only:
        _require_none(sounds, "--room-only listens and plays nothing", "--room-only")
    with told_when_stopped("Stopped; nothing was written."), ExitStack() as opened:
        if save is not None:
            may_write(save, "--save", "a preset", overwrite=overwrite)
        if file is not None:
            room = _recording(settings, file, seconds)
            _keep(save, room)
            raise typer.Exit(0 if room is not None else 1)
        plays_synth = midi is not None and settings.send.midi.port != "none"
        synth = opened.enter_context(Synth(settings.send.midi)) if plays_synth else None
        checked, stopped = _listen(settings, seconds, save, room_only=room_only)
        if not stopped and not room_only:
            stopped = _sound(checked, synth, None if no_sound else output or "default", asked=yes)
    _show(checked)
    if stopped:
        end_stopped("Stopped; this is what was measured until then.")
    dead = checked.room is not None and checked.room.dead and not (checked.played is not None and checked.played.heard)
    if dead or (synth is not None and synth.failed):
        raise typer.Exit(1)


def _show(checked: Checked) -> None:
    """The page: on a terminal no longer than that, if it can be, with a row for what is typed next."""
    size = shutil.get_terminal_size() if sys.stdout.isatty() else None
    columns, rows = (size.columns, size.lines - 1) if size is not None else (WIDEST, None)
    typer.echo()
    for line in page(checked, time.strftime("%Y-%m-%d %H:%M"), columns, rows):
        typer.echo(line)


def learned_room(settings: Settings, source: Source, seconds: float) -> LearnedRoom | None:
    """Listen to the open ``source`` and say what was learned; None, with the reason told, when nothing could be."""
    _ask_for_silence(seconds)
    with told_when_stopped(_NOT_LEARNED):
        room = learn_room(settings, source, seconds, SystemClock())
    problem = why_not(room)
    if problem is not None:
        typer.echo(problem, err=True)
        return None
    for line in room_lines(room):
        typer.echo(line)
    return room


def _ask_for_silence(seconds: float) -> None:
    typer.echo(f"Play nothing for {seconds:g} seconds: the room is being learned.")


def _listen(settings: Settings, seconds: float | None, save: Path | None, *, room_only: bool) -> tuple[Checked, bool]:
    """Listen to the room and then to the player; what was found, and whether a signal asked for the end.

    Raises typer.Exit when the room cannot be learned.
    """
    with Card(settings.capture) as source, Keys(key_terminal()) as keys, stop_on_signals() as request:
        typer.echo(f"Sound input: {printable(source.name)}, {source.rate} samples a second.")
        if source.rate != settings.capture.rate_hz:
            typer.echo(f"It refuses the {settings.capture.rate_hz} that are set, and is used at its own rate.")
        stopped = AskedToStop(keys, request)
        sound_check = SoundCheck(settings, source, SystemClock(), stopped)
        _ask_for_silence(seconds or LEARN_S)
        room = sound_check.hear_room(seconds or LEARN_S)
        checked = sound_check.checked
        if stopped():
            end_stopped(_NOT_LEARNED)
        _require_learned(checked, room, save, room_only=room_only)
        _keep(save, None if room.dead else room)
        if room_only:
            for line in room_lines(room):
                typer.echo(line)
            raise typer.Exit
        sooner = " q ends it sooner." if key_terminal() is not None else ""
        typer.echo(
            f"Now play for {seconds or PLAY_S:g} seconds: soft, hard, a low note, a high note; hold some for long."
            f"{sooner}"
        )
        sound_check.hear_playing(seconds or PLAY_S, room)
        return checked, stopped.by_signal


def _require_learned(checked: Checked, room: LearnedRoom, save: Path | None, *, room_only: bool) -> None:
    """Raise typer.Exit, with the reason told, when there is nothing to go on with.

    Of a silent microphone the playing will tell whether it is dead, or whether something takes all noise away.
    """
    problem = why_not(room)
    if problem is None:
        return
    typer.echo(problem, err=True)
    if checked.hum is not None:
        typer.echo(hum_line(checked.hum), err=True)
    if room.dead and not room_only:
        return
    if save is not None:
        typer.echo("Nothing was saved.", err=True)
    raise typer.Exit(1)


def _keep(save: Path | None, room: LearnedRoom | None) -> None:
    """Save the gate where that is asked for; without a ``room`` that tells it, say that nothing was."""
    if save is not None and room is not None:
        save_gate(save, room)
        typer.echo(f"Saved. To use it: reedwire play --preset {shlex.quote(printable(save))}")
    elif save is not None:
        typer.echo("Nothing was saved.", err=True)


def _recording(settings: Settings, file: Path, seconds: float | None) -> LearnedRoom | None:
    """The levels of a recording, of its first ``seconds`` if given; None when they do not tell its noise."""
    levels = measure_recording(settings, file, seconds)
    for line in recording_lines(levels, first=seconds is not None and levels.seconds >= seconds):
        typer.echo(line)
    return levels.room() if levels.has_pauses else None


def _require_none(given: Mapping[str, object], why: str, option: str) -> None:
    """Raise UserError when any of those was ``given`` that do not go with ``option``."""
    for other in (name for name, value in given.items() if value):
        raise UserError(f"{why}: leave {other} out, or {option}.")


def _sound(checked: Checked, synth: Synth | None, output: str | None, *, asked: bool) -> bool:
    """Play into synth and loudspeaker, each unless it is None; whether Ctrl-C ended it."""
    try:
        if synth is not None:
            checked.bend = synth.test(asked=asked)
        if output is not None:
            _loudspeaker(checked, output, asked=asked)
    except (KeyboardInterrupt, typer.Abort):
        return True
    return False


def _loudspeaker(checked: Checked, output: str, *, asked: bool) -> None:
    """Ask, play, and say what came back."""
    typer.echo(f"Now the loudspeaker. Turn its volume down first. {HOWL}")
    if not asked and not sys.stdin.isatty():
        typer.echo("Nothing was played, since nobody can be asked here: --yes plays without asking.")
        return
    if not asked and not typer.confirm("Play a few short chirps, quiet ones first?"):
        return
    settings = checked.settings
    with Loudspeaker(settings.capture, output) as loudspeaker:
        typer.echo(f"Sound output: {printable(loudspeaker.name)}.")
        checked.loudspeaker = measure_loudspeaker(loudspeaker)
        dropouts = loudspeaker.dropouts
    checked.loudspeaker_played = True
    if dropouts:
        typer.echo("Some of the sound was lost: the machine was too busy. Check again.", err=True)
    if checked.loudspeaker is None:
        typer.echo("Nothing surely came back: with headphones on this is as it should be.")
        return
    close_db = checked.room.close_db if checked.room is not None else settings.follow.gate.close_db
    for line in loudspeaker_lines(*checked.loudspeaker, close_db=close_db, bleed=settings.quantise.bleed):
        typer.echo(line)
