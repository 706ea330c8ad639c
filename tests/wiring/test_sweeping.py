"""A sweep: one value moves alone over its whole range, and all is at rest afterwards."""

from __future__ import annotations

import mido
import pytest

from bridge.base.clock import ManualClock
from bridge.base.errors import UserError
from bridge.send.midi_settings import MidiSettings, Thinned
from bridge.send.output import Outputs
from bridge.wiring.settings import load_settings
from bridge.wiring.sweeping import midi_alone, run_sweep, sweep_name, sweep_words


class Port:
    """A port that remembers what it was given, parsed by mido (MIDI 1.0)."""

    def __init__(self) -> None:
        self.heard: list[mido.Message] = []

    def open(self) -> None:
        """Nothing to open."""

    def send(self, data: bytes) -> None:
        """Remember it."""
        self.heard.append(mido.Message.from_bytes(data))

    def close(self) -> None:
        """Nothing to close."""


def swept(
    name: Thinned, *sets: str, note: bool = False, seconds: float = 4.0, stopped: bool = False
) -> list[mido.Message]:
    """What a sweep of that many seconds sends."""
    settings = load_settings(sets=[*sets, "send.osc.to=none"]).send
    port = Port()
    outputs = Outputs([midi_alone(name, settings.midi, port, note=note)], lambda _, error: pytest.fail(str(error)))
    outputs.open()
    run_sweep(name, settings, outputs, seconds=seconds, clock=ManualClock(), stopped=lambda: stopped)
    return port.heard


@pytest.mark.parametrize(
    ("name", "number", "neutral"), [("breath", 11, 127), ("bright", 74, 64), ("blueness", 20, 0), ("lean", 21, 64)]
)
def test_a_controller_moves_alone_over_its_whole_range(name: Thinned, number: int, neutral: int) -> None:
    """Nothing else reaches a synth that is learning; at the end it rests where receivers begin (RP-015, RP-021)."""
    heard = swept(name)
    assert {message.type for message in heard} == {"control_change"}
    assert [message.control for message in heard[:-1]] == [number] * (len(heard) - 1)
    values = [message.value for message in heard[:-1]]
    assert (min(values), max(values), values[-1]) == (0, 127, neutral)
    # Reset All Controllers (MIDI 1.0, 121) ends it.
    assert heard[-1].control == 121


def test_the_bend_needs_a_note_and_returns_to_its_centre() -> None:
    """A note sounds throughout, and the bend covers all that RPN 0 has just set (MIDI 1.0: -8192..8191)."""
    heard = swept("bend", note=True)
    bends = [message.pitch for message in heard if message.type == "pitchwheel"]
    assert (min(bends), max(bends), bends[-1]) == (-8192, 8191, 0)
    kinds = [message.type for message in heard]
    assert kinds.count("note_on") == kinds.count("note_off") == 1
    assert kinds.index("note_on") < kinds.index("note_off")
    assert next(message for message in heard if message.type == "note_on").velocity < 64


def test_what_is_remapped_and_doubled_is_swept_so() -> None:
    """Controller 20 to 27 with 14 bits: 27 and 59, each pair MSB first (MIDI 1.0)."""
    heard = swept("blueness", "send.midi.blueness=27", "send.midi.fourteen_bit=true", "send.midi.channel=3")
    numbers = [message.control for message in heard[:-1]]
    assert set(numbers) == {27, 59}
    assert numbers[0] == 27
    assert {message.channel for message in heard} == {2}


def test_in_a_zone_the_breath_is_pressure_and_the_lean_the_managers() -> None:
    """MPE 1.1: pressure on a member; what belongs to no note on channel 1."""
    pressure = [message for message in swept("breath", "send.midi.mode=mpe") if message.type == "aftertouch"]
    assert {message.channel for message in pressure} == {1}
    assert {message.value for message in pressure} >= {0, 127}
    lean = [message for message in swept("lean", "send.midi.mode=mpe") if getattr(message, "control", 0) == 21]
    assert {message.channel for message in lean} == {0}


def test_a_breath_is_swept_as_what_carries_it() -> None:
    """Pressure on one channel, its controller on a member; in neither case is another value's sweep disturbed by it."""
    pressure = swept("breath", "send.midi.breath=pressure")[:-1]
    assert {message.type for message in pressure} == {"aftertouch"}
    values = [message.value for message in pressure]
    assert (min(values), max(values), values[-1]) == (0, 127, 0)
    zone = ("send.midi.mode=mpe", "send.midi.mpe_breath=controller")
    on_member = [
        message for message in swept("breath", *zone) if message.type != "aftertouch" and message.control == 11
    ]
    assert {message.channel for message in on_member} == {1}
    assert on_member[-1].value == 127
    assert {message.type for message in swept("lean", "send.midi.breath=pressure")} == {"control_change"}


@pytest.mark.parametrize(
    ("sets", "said"),
    [
        (["send.midi.breath=pressure", "send.midi.channel=4"], "channel pressure on channel 4"),
        (["send.midi.mode=mpe"], "channel pressure on channel 2"),
        (["send.midi.mode=mpe", "send.midi.mpe_breath=controller"], "controller 11 on channel 2"),
        (["send.midi.breath=2"], "controller 2 on channel 1"),
    ],
)
def test_it_says_what_carries_the_breath(sets: list[str], said: str) -> None:
    """The message, and the channel it goes out on."""
    settings = load_settings(sets=sets).send
    assert sweep_name("breath", settings) == "breath"
    assert sweep_words("breath", settings)[0] == f"To our own MIDI port, reedwire: breath as {said}, 0 to 127."


def test_a_stopped_sweep_ends_at_rest_too() -> None:
    """Asked to stop before it began: neutral, note off, bend at its centre."""
    heard = swept("bend", note=True, stopped=True)
    kinds = [message.type for message in heard]
    assert kinds.count("note_on") == kinds.count("note_off") == 1
    assert [message.pitch for message in heard if message.type == "pitchwheel"][-1] == 0


@pytest.mark.parametrize(
    ("name", "sets", "said"),
    [
        ("wobble", [], "Choose one of: bend, breath, bright, blueness, lean"),
        ("lean", ["send.midi.lean=null"], "send.midi.lean is off"),
        ("lean", ["send.midi.port=none", "send.osc.to=none"], "Neither MIDI nor OSC is on"),
    ],
)
def test_what_cannot_be_swept_is_said(name: str, sets: list[str], said: str) -> None:
    """Unknown, switched off, or nowhere to send to."""
    with pytest.raises(UserError, match=said):
        sweep_name(name, load_settings(sets=sets).send)


def test_it_says_where_it_goes() -> None:
    """Channel and controller, a line for each output."""
    lines = sweep_words("lean", load_settings(sets=["send.midi.channel=5"]).send)
    assert lines[0] == "To our own MIDI port, reedwire: lean as controller 21 on channel 5, 0 to 127."
    assert lines[1].startswith("OSC to 127.0.0.1:9000: lean in /reedwire/inflect")


def test_it_names_the_port_or_leaves_out_a_midi_that_is_not_there() -> None:
    """A port by its name; where there is no MIDI system only OSC."""
    named = load_settings(sets=["send.midi.port=my synth"]).send
    assert sweep_words("breath", named)[0].startswith("To MIDI port my synth: breath as controller 11 ")
    lines = sweep_words("breath", load_settings().send, has_midi=False)
    assert [line.split()[0] for line in lines] == ["OSC"]


def test_the_others_are_off_in_the_settings_given_to_the_encoder() -> None:
    """A synth that holds a note to hear the brightness still gets the breath."""
    port = Port()
    output = midi_alone("bright", MidiSettings(), port, note=True)
    assert set(output._settings.controllers) == {"breath", "bright"}
