"""``reedwire sweep``: moves one controller alone, so that a synth can learn it."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import UserError
from bridge.base.printable import printable
from bridge.cli.cautions import ADVICE, HEARING
from bridge.cli.options import MidiPortName, OscAddress, Preset, Sets, settings_from
from bridge.wiring.steady import stop_on_signals
from bridge.wiring.sweeping import ROUND_S, run_sweep, sweep_name, sweep_outputs, sweep_words

_TIMES = 5


def sweep(
    name: Annotated[str, typer.Argument(metavar="NAME", help="bend, breath, bright, blueness or lean.")],
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
    midi: MidiPortName = None,
    osc: OscAddress = None,
    preset: Preset = None,
    sets: Sets = None,
) -> None:
    """Move one value alone up and down its whole range, so that a synth can learn its controller.

    Begin it, then switch on "learn" in the synth. It is sent as play sends it: the same preset and --set remap it. It
    ends with the value at rest and every note off.
    """
    if times is not None and seconds is not None:
        raise UserError("--times and --seconds both say how long: leave one of them out.")
    send = settings_from(preset, sets, midi=midi, osc=osc).send
    swept = sweep_name(name, send)
    holds = note or swept == "bend"
    failures: list[str] = []

    def failed(output: str, error: Exception) -> None:
        failures.append(output)
        typer.echo(printable(f"{output} failed: {error}"), err=True)

    outputs = sweep_outputs(
        swept, send, note=holds, notice=lambda text: typer.echo(printable(text), err=True), on_failure=failed
    )
    for line in sweep_words(swept, send):
        typer.echo(line)
    if holds or send.osc.to != "none":
        typer.echo(f"{HEARING}\n{ADVICE}", err=True)
    length = seconds if seconds is not None else ROUND_S * (times or _TIMES)
    typer.echo(f"It takes {math.ceil(length)} s; Ctrl-C ends it.")
    with stop_on_signals() as stop:
        run_sweep(swept, send, outputs, seconds=length, clock=SystemClock(), stop=stop)
    typer.echo("Stopped: at rest, every note off." if stop.wanted else "Done: at rest, every note off.")
    if failures:
        raise typer.Exit(1)
