"""``reedwire panic``: ends every note that may hang, on every channel."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated

import typer

from bridge.base.clock import SystemClock
from bridge.base.errors import OutputError, UserError
from bridge.base.printable import printable
from bridge.cli.to_width import say
from bridge.send.midi_port import MidiPort
from bridge.send.midi_system import list_midi_ports, matching
from bridge.send.port_watch import PortWatch
from bridge.wiring.log_file import LOG
from bridge.wiring.panic import LOST, silence

#: What other commands take for a port, and no other program listens to.
_NO_PORTS = ("auto", "virtual", "none")


def panic(
    midi: Annotated[str, typer.Option("--midi", metavar="PORT", help="One port, or part of its name; else all.")] = "",
) -> None:
    """End every note that hangs on a MIDI port.

    Goes to every channel and takes about two seconds a port.
    """
    if midi in _NO_PORTS:
        raise UserError(
            f"--midi {midi}: panic needs a port that is there. Give part of its name, or leave --midi out for all."
        )
    there = list(dict.fromkeys(port.name for port in list_midi_ports()))
    if not there:
        asked = f", so none fits {midi!r}" if midi else ""
        raise UserError(f"There is no MIDI port on this machine{asked}. Nothing was sent.")
    if midi and not matching(midi, there):
        raise UserError(
            f"No MIDI port fits {midi!r}, and nothing was sent. There is: {', '.join(map(repr, there))}. "
            "Give part of one of these names, or leave --midi out for all."
        )
    names = [midi] if midi else there
    quiet = 0
    for done, name in enumerate(names, 1):
        port = MidiPort(name, typer.echo, watch=PortWatch(), once=True)
        quiet += _silenced(name, port)
        if not port.answers:
            # Who opens another port there may wait for ever.
            _tell_untried(names[done:])
            break
    if not quiet:
        raise typer.Exit(UserError.exit_status)
    if quiet < len(names):
        raise typer.Exit(1)


def _tell_untried(names: list[str]) -> None:
    """The MIDI system does not answer any more, and these ports were still to be silenced."""
    if names:
        listed = ", ".join(map(repr, names))
        told = f"The MIDI system does not answer, so nothing was sent to {listed}. Once it does, begin panic again."
        say(printable(f"reedwire: {told}"), err=True)


def _silenced(name: str, port: MidiPort) -> bool:
    """Silence one port and say how it went; whether it could be done."""
    try:
        port.open()
        sent = _played_out(port)
    except Exception as error:  # noqa: BLE001 -- whatever it is, the other ports are still to be silenced
        LOG.error("%s: %s", name, error)
        # What a user can mend before anything is sent names the port itself.
        told = error if isinstance(error, UserError) and not port.lost else f"{name}: {error}"
        say(printable(f"reedwire: {told}"), err=True)
        return False
    typer.echo(printable(f"{name}: quiet ({sent} messages)."))
    return True


def _played_out(port: MidiPort) -> int:
    """Silence the open port and close it; how many messages it took. Raises OutputError when not all were fetched."""
    try:
        sent = silence(port, SystemClock())
    finally:
        with suppress(Exception):
            port.close()
    if port.lost:
        raise OutputError(LOST)
    return sent
