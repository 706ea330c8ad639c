"""``reedwire drill``: exercises on the third, with what to try next; from the microphone or from a recording."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.cli.drill_live import play_rounds
from bridge.cli.drill_words import attempt_lines, list_lines, progress_lines
from bridge.cli.numbers import number
from bridge.cli.options import A4, Harp, HarpFile, Position, Preset, Sets, settings_from
from bridge.cli.stopped import told_when_stopped
from bridge.study.attempt import Attempt
from bridge.takes.player_file import Kept, keep, off_cents_of, player_path, read_kept, require_player, unread_words
from bridge.wiring.drilling import GRANTED, exercises_on, find_exercise, hear_file, zone_of
from bridge.wiring.harps import harp_in_hand
from bridge.wiring.settings import Settings

_STOPPED = "Stopped; what was played to its end is kept."
_TEMPO = 72.0
_BPM = "beats a minute"


def drill(
    exercise: Annotated[
        str | None, typer.Argument(metavar="EXERCISE", help="Which one; without it they are listed.")
    ] = None,
    tempo: Annotated[
        float | None,
        typer.Option(
            "--tempo",
            metavar="BPM",
            parser=number("--tempo", 30.0, 200.0, _BPM),
            help="Beats a minute, 72 unless told.",
        ),
    ] = None,
    rounds: Annotated[int, typer.Option("--rounds", metavar="N", min=1, max=50, help="How many times.")] = 3,
    silent: Annotated[bool, typer.Option("--silent", help="Count in on the screen alone, without clicks.")] = False,
    player: Annotated[str, typer.Option("--player", metavar="NAME", help="Whose progress is kept.")] = "me",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Keep it in this file, JSON lines, instead.")
    ] = None,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="SOUND", help="Listen to a recording instead of the microphone.")
    ] = None,
    first_beat: Annotated[
        float | None,
        typer.Option("--first-beat", metavar="S", min=0.0, help="Where a beat lies in the recording; needs --tempo."),
    ] = None,
    progress: Annotated[bool, typer.Option("--progress", help="Only show the progress so far.")] = False,
    sound: Annotated[
        str | None, typer.Option("--input", metavar="DEVICE", help="Sound input by number or name.")
    ] = None,
    output: Annotated[
        str | None, typer.Option("--output", metavar="DEVICE", help="Loudspeaker by number or name.")
    ] = None,
    harp: Harp = None,
    harp_file: HarpFile = None,
    position: Position = None,
    a4: A4 = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Practise the third, and hear one thing to try next.

    Straight, minor, blue, released, growing, and in turn with the root. You are counted in, with quiet clicks unless
    --silent. Of each note you are told where it began and settled, how it was let go, how steady, clean and in time it
    was, and then one thing to try next. q or Ctrl-C ends it.
    """
    settings = settings_from(
        preset, sets, GRANTED, sound=sound, harp=harp, harp_file=harp_file, position=position, a4=a4
    )
    path = out or player_path(player)
    if progress or exercise is None:
        _show(settings, path, exercise, progress=progress, player=player if out is None else None)
        return
    chosen = find_exercise(settings, exercise)
    _check(file, silent=silent, output=output, sound=sound, tempo=tempo, first_beat=first_beat)
    kept = _kept_before(path, chosen_by_user=out is not None)
    before = next(reversed(off_cents_of(kept, chosen.name)), None)

    def done(attempt: Attempt) -> None:
        for line in attempt_lines(attempt, zone_of(settings)):
            typer.echo(line)
        if attempt.heard:
            keep(path, attempt, time.strftime("%Y-%m-%dT%H:%M:%S"), harp_in_hand(settings.harp).name)

    with told_when_stopped(_STOPPED):
        if file is not None:
            beat_s = None if tempo is None else 60.0 / tempo
            attempts = hear_file(settings, file, chosen, SystemClock(), beat_s, first_beat, before)
            if not attempts:
                raise UserError(f"{file}: no note of this exercise was heard. Check --harp and --position.")
            typer.echo(chosen.how)
            for attempt in attempts:
                done(attempt)
        else:
            loudspeaker = None if silent else output or "default"
            play_rounds(settings, chosen, tempo or _TEMPO, rounds, loudspeaker, before, done)
    for line in progress_lines(read_kept(path)[0], chosen):
        typer.echo(line)
    typer.echo(f"Kept in {printable(path)}.")


def _kept_before(path: Path, *, chosen_by_user: bool) -> list[Kept]:
    """What the file keeps; raises UserError for one that the user named by a slip of the hand."""
    kept, torn = read_kept(path)
    if torn and not kept and chosen_by_user:
        raise UserError(
            f"{printable(path)} has lines and none of them was kept by reedwire drill, so nothing is added to it. "
            "Choose another file with --out."
        )
    if told := unread_words(path, torn):
        typer.echo(told, err=True)
    return kept


def _show(settings: Settings, path: Path, name: str | None, *, progress: bool, player: str | None) -> None:
    """The exercises there are, or how each has gone so far."""
    every = exercises_on(settings) if name is None else (find_exercise(settings, name),)
    if not progress:
        for line in ("Exercises on the third:", *list_lines(every), "For example: reedwire drill straight --harp C"):
            typer.echo(line)
        return
    if player is not None:
        require_player(player)
    kept, _ = read_kept(path)
    lines = [line for exercise in every for line in progress_lines(kept, exercise)]
    for line in lines or [f"Nothing to show yet: {printable(path)} has no exercise that was played twice."]:
        typer.echo(line)


def _check(
    file: Path | None,
    *,
    silent: bool,
    output: str | None,
    sound: str | None,
    tempo: float | None,
    first_beat: float | None,
) -> None:
    """Raise UserError for options that do not go together."""
    if file is not None and (sound is not None or output is not None or silent):
        raise UserError("--file listens to a recording, without a sound card: leave --input, --output, --silent out.")
    if first_beat is not None and (file is None or tempo is None):
        raise UserError("--first-beat says where a beat lies in a recording: it goes with --file and --tempo.")
    if silent and output is not None:
        raise UserError("--silent plays nothing: leave --output out, or --silent.")
