"""The outputs, and the inputs of commands, that the settings ask for."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from bridge.base.clock import SystemClock
from bridge.send.footswitch import Footswitch
from bridge.send.harp_pedal import HarpPedal
from bridge.send.midi_in_port import MidiInPort
from bridge.send.midi_input import MidiInput, Pedal
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_port import MidiPort
from bridge.send.osc_input import OscInput
from bridge.send.osc_output import OscOutput
from bridge.send.output import Output
from bridge.send.pitch import SentPitch
from bridge.send.port_watch import PortWatch
from bridge.send.settings import SendSettings


def make_outputs(
    settings: SendSettings,
    *,
    pitch: SentPitch,
    program_version: str,
    notice: Callable[[str], None],
    watch: PortWatch | None = None,
) -> list[Output]:
    """MIDI and OSC outputs that send by ``pitch``, not yet open.

    ``notice`` is told in one line when ``auto`` finds no MIDI system, and when a port goes away or comes back, for
    which ``watch`` looks; all ports can share one.
    """
    watch = watch or PortWatch()
    outputs: list[Output] = []
    if settings.midi.port != "none":
        port = MidiPort(settings.midi.port, notice, watch=watch)
        outputs.append(MidiOutput(settings.midi, pitch, port, port.attend))
    if settings.osc.to != "none":
        outputs.append(OscOutput(settings.osc, pitch, program_version))
    return outputs


def make_inputs(
    settings: SendSettings, notice: Callable[[str], None], watch: PortWatch | None = None
) -> list[OscInput | MidiInput]:
    """What commands come in by, not yet open; ``notice`` is told in one line what goes wrong later.

    Pedals that come in by one port share it. ``watch`` looks for ports that go away or come back.
    """
    watch = watch or PortWatch()
    inputs: list[OscInput | MidiInput] = [OscInput(settings.osc, notice)]
    pedals: dict[str, list[Callable[[], Pedal]]] = {}
    pedals.setdefault(settings.arm.port, []).append(partial(Footswitch, settings.arm))
    pedals.setdefault(settings.harp.port, []).append(partial(HarpPedal, settings.harp))
    for port, make in pedals.items():
        if port != "none":
            inputs.append(MidiInput(make, MidiInPort(port, notice, SystemClock(), watch=watch)))
    return inputs
