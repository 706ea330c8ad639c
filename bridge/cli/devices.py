"""``reedwire devices``: what can be heard from and sent to on this machine."""

from __future__ import annotations

import typer

from bridge.base.errors import UserError
from bridge.capture.microphone import list_devices
from bridge.send.midi_system import Way, list_midi_ports


def devices() -> None:
    """List the sound inputs and the MIDI ports of this machine."""
    typer.echo("Sound inputs, for --input:")
    _sound_inputs()
    typer.echo("\nMIDI ports, for --midi:")
    _midi_ports("out", "--midi")
    typer.echo("\nMIDI ports that a footswitch may come in by, for --footswitch:")
    _midi_ports("in", "--footswitch")


def _sound_inputs() -> None:
    """The inputs one a line, or why there are none."""
    try:
        inputs = [device for device in list_devices() if device.input_channels > 0]
    except UserError as error:
        typer.echo(f"  none: {error}")
        return
    for device in inputs:
        typer.echo(f"  {device}")
    if not inputs:
        typer.echo("  none: connect a microphone and ask again.")


def _midi_ports(way: Way, option: str) -> None:
    """The ports of one direction, one a line."""
    ports = list_midi_ports(way)
    for port in ports:
        typer.echo(f"  {port.name}  ({port.system})")
    if not ports:
        typer.echo(f"  none here; {option} virtual makes one where the machine has ALSA, CoreMIDI or JACK.")
