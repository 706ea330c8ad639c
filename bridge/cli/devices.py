"""``reedwire devices``: what can be heard from and sent to on this machine."""

from __future__ import annotations

import typer

from bridge.base.errors import UserError
from bridge.capture.devices import Way
from bridge.capture.sound_system import list_devices
from bridge.send.midi_system import Way as MidiWay
from bridge.send.midi_system import list_midi_ports


def devices() -> None:
    """List the sound devices and the MIDI ports of this machine."""
    typer.echo("Sound inputs, for --input:")
    _sound_devices("input", "connect a microphone and ask again.")
    typer.echo("\nSound outputs, for check --output:")
    _sound_devices("output", "connect a loudspeaker and ask again.")
    typer.echo("\nMIDI ports, for --midi:")
    _midi_ports("out", "--midi")
    typer.echo("\nMIDI ports that a footswitch may come in by, for --footswitch:")
    _midi_ports("in", "--footswitch")


def _sound_devices(way: Way, advice: str) -> None:
    """The devices of one direction, one a line, or why there are none."""
    try:
        there = [device for device in list_devices() if device.channels(way) > 0]
    except UserError as error:
        typer.echo(f"  none: {error}")
        return
    for device in there:
        typer.echo(f"  {device.described(way)}")
    if not there:
        typer.echo(f"  none: {advice}")


def _midi_ports(way: MidiWay, option: str) -> None:
    """The ports of one direction, one a line."""
    ports = list_midi_ports(way)
    for port in ports:
        typer.echo(f"  {port.name}  ({port.system})")
    if not ports:
        typer.echo(f"  none here; {option} virtual makes one where the machine has ALSA, CoreMIDI or JACK.")
