"""``reedwire demo``: the whole way, played by a synthetic harmonica, so that nothing has to be plugged in."""

from __future__ import annotations

import shlex
import shutil
import sys
from pathlib import Path
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.cli.options import (
    A4,
    FollowerName,
    Harp,
    HarpFile,
    MidiPortName,
    OscAddress,
    Position,
    Preset,
    Scale,
    Sets,
    Tune,
    counted,
    folder_for_takes,
    settings_from,
)
from bridge.cli.performing import end, perform, tell_trouble
from bridge.wiring.sources import rehearsal_source


def demo(
    fast: Annotated[bool, typer.Option("--fast", help="Do not wait for the music.")] = False,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder that the take goes into.")] = Path("takes"),
    midi: MidiPortName = None,
    osc: OscAddress = None,
    harp: Harp = None,
    harp_file: HarpFile = None,
    position: Position = None,
    scale: Scale = None,
    a4: A4 = None,
    tune: Tune = None,
    follower: FollowerName = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Play a tune by itself: the live path, without a harp.

    It goes to OSC on this machine, to a MIDI port where there is any, and into a take. It is silent by itself; at its
    end it says how to hear it.
    """
    settings = settings_from(
        preset,
        sets,
        paced=False if fast else None,
        midi=midi,
        osc=osc,
        harp=harp,
        harp_file=harp_file,
        position=position,
        scale=scale,
        a4=a4,
        tune=tune,
        follower=follower,
    )
    folder = folder_for_takes(out)
    report = perform(
        settings, lambda: rehearsal_source(settings, SystemClock()), title="demo", told=[_SILENT], take=folder
    )
    to = settings.send.osc.to
    osc_went = "No OSC was sent." if to == "none" else f"OSC went to {to}."
    typer.echo(f"{counted(report.notes)} in {report.seconds:.1f} s of music. {osc_went}")
    tell_trouble(report)
    if report.folder is not None and report.complete:
        typer.echo(f"The take lies in {report.folder}:")
        for name, what in _FILES:
            if name != _SOUND or settings.takes.keep_sound:
                typer.echo(f"  {name:<17} {what}")
        _tell_how_to_hear(report.folder, sound=settings.takes.keep_sound)
    typer.echo("Next:")
    command = _command()
    for words, what in _NEXT:
        typer.echo(f"  {command} {words:<28} {what}")
    end(report)


def _tell_how_to_hear(folder: Path, *, sound: bool) -> None:
    """The lines to type for the sound that the demo itself does not make."""
    typer.echo("The demo is silent by itself. To hear what was sent, with all bends:")
    typer.echo("  sudo apt-get install fluidsynth fluid-soundfont-gm    (once)")
    typer.echo(f"  fluidsynth -ni {_SOUND_FONT} {shlex.quote(str(folder / 'performance.mid'))}")
    if sound:
        typer.echo(f"Or play {shlex.quote(str(folder / _SOUND))}, the harmonica itself.")


_SILENT = "The demo is silent by itself; at its end it says how to hear it."
_SOUND_FONT = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
_SOUND = "sound.wav"
_FILES = (
    ("curve.csv", "the pitch, moment by moment, in cents above the root"),
    ("notes.csv", "one line a note: degree, hole, blow or draw"),
    ("inflections.csv", "how each note moves: edit it, then rebuild"),
    ("tab.txt", "the holes, a line a phrase"),
    ("score.musicxml", "for notation programs, quarter tones included"),
    ("performance.mid", "for any sequencer, bends included"),
    ("journal.jsonl", "the notes and their bends, as they happened"),
    (_SOUND, "what was heard"),
    ("played", "both tables as they were played, to go back to"),
)
_NEXT = (
    ("devices", "inputs and MIDI ports here"),
    ("play --harp C", "the same with your harp"),
    ("play --harp C --midi virtual", "... into a synth"),
    ("transcribe FILE --out takes", "a recording, note by note"),
)


def _command() -> str:
    """What to type for this program: its name where the shell finds it, else the way it was started."""
    if shutil.which("reedwire"):
        return "reedwire"
    started, here = Path(sys.argv[0]), Path.cwd()
    return str(started.relative_to(here) if started.is_relative_to(here) else started)
