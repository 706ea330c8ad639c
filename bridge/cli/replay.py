"""``reedwire replay``: a take sent live to MIDI and OSC, with its sound if wanted."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.printable import printable
from bridge.cli.cautions import cautions
from bridge.cli.keys import Keys
from bridge.cli.options import MidiPortName, OscAddress, Preset, Sets, counted, settings_from
from bridge.cli.place_line import PlaceLine
from bridge.cli.progress import progress_bar
from bridge.cli.take_times import clock_time, parse_time
from bridge.wiring.meter_process import key_terminal
from bridge.wiring.opening import opened_take
from bridge.wiring.replay_making import granted, make_replay, reach_of, replay_words, root_midi, sound_of
from bridge.wiring.steady import stop_on_signals


def replay(
    take: Annotated[Path, typer.Argument(metavar="TAKE", help="Folder of a take.")],
    from_time: Annotated[
        str | None, typer.Option("--from", metavar="TIME", help="Begin there: seconds, or minutes as in 1:02.5.")
    ] = None,
    to_time: Annotated[str | None, typer.Option("--to", metavar="TIME", help="End there.")] = None,
    speed: Annotated[float, typer.Option("--speed", metavar="X", help="So fast: 0.5 is half the tempo.")] = 1.0,
    loop: Annotated[bool, typer.Option("--loop", help="Over and over, until you end it.")] = False,
    sound: Annotated[
        bool, typer.Option("--sound", help="Play the sound of the take as well; only at speed 1.")
    ] = False,
    output: Annotated[
        str, typer.Option("--output", metavar="DEVICE", help="Sound output for --sound, by number or name.")
    ] = "default",
    midi: MidiPortName = None,
    osc: OscAddress = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Send a take to MIDI and OSC as if it were played now.

    It is sent as it stands in its tables: what was edited in notes.csv and inflections.csv is heard at once, nothing
    has to be rebuilt for that. q or Ctrl-C ends it, and no note is left sounding. Presets and --set count as in play.
    """
    early: list[str] = []
    with progress_bar(printable(take.name)) as opening:
        opened = opened_take(take, early.append, opening)
    settings = settings_from(preset, sets, granted(opened), any_harp=True, midi=midi, osc=osc)
    reach = reach_of(
        opened,
        0.0 if from_time is None else parse_time(from_time, "--from"),
        None if to_time is None else parse_time(to_time, "--to"),
        speed,
        loop=loop,
    )
    player = sound_of(opened, reach, output, early.append) if sound else None
    for line in early:
        typer.echo(printable(line), err=True)
    for line in replay_words(opened, settings):
        typer.echo(printable(line))
    for line in cautions(played=False, sent=True):
        typer.echo(line, err=True)
    with stop_on_signals() as stop, Keys(key_terminal()) as keys:
        place = PlaceLine(reach, root_midi(opened))
        running = make_replay(opened, settings, reach, SystemClock(), stop, place.say, orders=keys, sound=player)
        with place.showing(running.progress):
            done = running.run(float("inf") if loop else reach.round_s)
    where = f"Stopped at {clock_time(reach.place(done.sent_s))}" if done.stopped else "Done"
    typer.echo(f"{where}: {counted(done.notes)} sent, none left sounding.")
