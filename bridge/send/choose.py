"""The outputs, and the inputs of commands, that the settings ask for."""

from __future__ import annotations

from collections.abc import Callable

from bridge.base.clock import SystemClock
from bridge.send.footswitch import FootswitchInput
from bridge.send.midi_in_port import MidiInPort
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_port import MidiPort
from bridge.send.osc_input import OscInput
from bridge.send.osc_output import OscOutput
from bridge.send.output import Output
from bridge.send.pitch import sent_pitch
from bridge.send.settings import SendSettings


def make_outputs(
    settings: SendSettings, *, tuning_offset_cents: float, program_version: str, notice: Callable[[str], None]
) -> list[Output]:
    """MIDI and OSC outputs, not yet open; ``notice`` is told in one line when ``auto`` finds no MIDI system."""
    pitch = sent_pitch(settings, tuning_offset_cents)
    outputs: list[Output] = []
    if settings.midi.port != "none":
        outputs.append(MidiOutput(settings.midi, pitch, MidiPort(settings.midi.port, notice)))
    if settings.osc.to != "none":
        outputs.append(OscOutput(settings.osc, pitch, program_version))
    return outputs


def make_inputs(settings: SendSettings, notice: Callable[[str], None]) -> list[OscInput | FootswitchInput]:
    """What commands come in by, not yet open; ``notice`` is told in one line what goes wrong later."""
    inputs: list[OscInput | FootswitchInput] = [OscInput(settings.osc, notice)]
    if settings.arm.port != "none":
        inputs.append(FootswitchInput(settings.arm, MidiInPort(settings.arm.port, notice, SystemClock())))
    return inputs
