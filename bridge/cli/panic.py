"""``reedwire panic``: ends every note that may hang, on every channel."""

from __future__ import annotations

from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import OutputError, UserError
from bridge.send.midi_port import MidiPort, list_midi_ports
from bridge.wiring.panic import silence


def panic(
    midi: Annotated[str, typer.Option("--midi", metavar="PORT", help="One port, or part of its name; else all.")] = "",
) -> None:
    """End every note that hangs on a MIDI port.

    Goes to every channel and takes about two seconds a port.
    """
    names = [midi] if midi else list(dict.fromkeys(port.name for port in list_midi_ports()))
    if not names:
        raise UserError("There is no MIDI port on this machine. Nothing was sent.")
    failed = 0
    for name in names:
        port = MidiPort(name, typer.echo)
        try:
            port.open()
            sent = silence(port, SystemClock())
        except OutputError as error:
            failed += 1
            typer.echo(f"{name}: {error}", err=True)
        else:
            typer.echo(f"{name}: quiet ({sent} messages).")
        finally:
            port.close()
    if failed == len(names):
        raise typer.Exit(UserError.exit_status)
    if failed:
        raise typer.Exit(1)
