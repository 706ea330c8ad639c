"""``reedwire sweep``: moves one controller alone, so that a synth can learn it."""

from __future__ import annotations

import math
import sys
from contextlib import closing
from functools import partial
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.cli.asked_to_stop import AskedToStop
from bridge.cli.cautions import ADVICE, HEARING
from bridge.cli.keys import Keys
from bridge.cli.options import MidiPortName, OscAddress, Preset, Sets, settings_from
from bridge.cli.stopped import told_when_stopped
from bridge.cli.to_width import say
from bridge.send.midi_port import MidiPort
from bridge.send.midi_system import CLIENT_NAME
from bridge.send.port_watch import PortWatch
from bridge.wiring.meter_process import key_terminal
from bridge.wiring.steady import stop_on_signals
from bridge.wiring.sweeping import OWN_PORTS, ROUND_S, run_sweep, sweep_name, sweep_outputs, sweep_words

_TIMES = 5
_UNSURE = "whether all is at rest, and every note off, is not known."
_NOT_BEGUN = "Stopped; nothing was moved."


def sweep(
    name: Annotated[str, typer.Argument(metavar="NAME", hidden=True)],
    times: Annotated[
        int | None,
        typer.Option("--times", metavar="N", min=1, max=1000, help=f"So often up and down; {_TIMES} unless told."),
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option("--seconds", metavar="N", min=ROUND_S, help="So long instead; Ctrl-C ends it sooner."),
    ] = None,
    note: Annotated[
        bool, typer.Option("--note", help="Hold a quiet note, so that it can be heard; the bend always does.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Begin without asking whether the synth is joined.")] = False,
    midi: MidiPortName = None,
    osc: OscAddress = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Move one value alone, so that a synth can learn it.

    NAME is bend, breath, bright, blueness or lean; it goes up and down its whole range. Begin it, then switch on
    "learn" in the synth. It is sent as play sends it: the same preset and --set remap it. It ends with the value at
    rest and every note off.
    """
    if times is not None and seconds is not None:
        raise UserError("--times and --seconds both say how long: leave one of them out.")
    send = settings_from(preset, sets, midi=midi, osc=osc).send
    swept = sweep_name(name, send)
    holds = note or swept == "bend"
    failures: list[str] = []
    notice: list[str] = []

    def failed(output: str, error: Exception) -> None:
        failures.append(output)
        say(printable(f"{output} failed: {error}"), err=True)

    port = MidiPort(send.midi.port, notice.append, watch=PortWatch(), once=True) if send.midi.port != "none" else None
    outputs = sweep_outputs(swept, send, port, note=holds, on_failure=failed)
    with told_when_stopped(_NOT_BEGUN), closing(outputs):
        outputs.open()
        no_midi = bool(notice)
        for text in notice:
            say(printable(text), err=True)
        lines = sweep_words(swept, send, has_midi=not no_midi)
        if not lines:
            raise UserError("OSC is off too, so nothing can be sent. Give --osc HOST:PORT.")
        for line in lines:
            say(printable(line))
        if holds or send.osc.to != "none":
            say(f"{HEARING}\n{ADVICE}", err=True)
        if send.midi.port in OWN_PORTS and not no_midi and not yes and sys.stdin.isatty():
            _ask_whether_joined()
        length = seconds if seconds is not None else ROUND_S * (times or _TIMES)
        terminal = key_terminal()
        say(f"It takes {math.ceil(length)} s; {'Ctrl-C' if terminal is None else 'q or Ctrl-C'} ends it.")
        with stop_on_signals() as request, Keys(terminal) as keys:
            stopped = AskedToStop(keys, request)
            ends = partial(_ends, stopped, port)
            run_sweep(swept, send, outputs, seconds=length, clock=SystemClock(), stopped=ends)
    if port is not None and port.lost:
        say(f"The MIDI port went away, or did not answer at the end: {_UNSURE}", err=True)
        say("Once it is back, reedwire panic ends what sounds.", err=True)
    elif failures:
        say(f"Not all of it was sent: {_UNSURE}", err=True)
    else:
        say("Stopped: at rest, every note off." if stopped() else "Done: at rest, every note off.")
        return
    raise typer.Exit(1)


def _ends(stopped: AskedToStop, port: MidiPort | None) -> bool:
    """Whether the sweep ends before its time: asked to, or with nobody there to hear it."""
    return stopped() or (port is not None and port.lost)


def _ask_whether_joined() -> None:
    """A port of our own reaches nobody until it is joined. Raises typer.Exit when it is not."""
    if not typer.confirm(f"Join the MIDI port {CLIENT_NAME} to your synth. Is it joined?", default=True):
        say(_NOT_BEGUN, err=True)
        raise typer.Exit(1)
