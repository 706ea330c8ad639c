"""From a pedal's MIDI messages to another harp.

Source: MIDI 1.0 Detailed Specification 4.2.1 (Cn pp = Program Change, counted from 0; Bn = controller, a switch is on
from 64; 9n = Note On).
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.base.commands import Arm, ChangeHarp, Command
from bridge.send.choose import make_inputs
from bridge.send.footswitch import Footswitch
from bridge.send.harp_pedal import HarpPedal
from bridge.send.midi_input import MidiInput, Pedal
from bridge.send.settings import ArmSettings, HarpPedalSettings, SendSettings
from send.test_footswitch import MadePort


def heard(settings: HarpPedalSettings, *messages: str) -> list[Command]:
    """What these messages, in hex, ask for."""
    pedal = HarpPedal(settings)
    return [command for text in messages if (command := pedal.hear(bytes.fromhex(text))) is not None]


@pytest.mark.parametrize(
    ("settings", "messages", "harps"),
    [
        ({}, ("C0 00", "CF 02", "C5 7F"), ["1", "3", "128"]),
        ({"first_program": 10}, ("C0 0A", "C0 0C", "C0 09"), ["1", "3"]),
        ({"channel": 2}, ("C0 00", "C1 01"), ["2"]),
        ({}, ("B0 50 7F", "90 50 7F", "D0 01", "C0", "F8", ""), []),
        ({"sends": "controller"}, ("B0 50 7F", "B0 50 00", "B0 50 7F", "B0 51 7F", "C0 01"), ["next", "next"]),
        ({"sends": "controller", "channel": 1, "number": 64}, ("B0 40 40", "B1 40 00", "B1 40 7F"), ["next"]),
        ({"sends": "note", "number": 36}, ("90 24 10", "80 24 40", "90 24 00", "99 24 01"), ["next", "next"]),
    ],
)
def test_a_pedal_takes_another_harp(settings: dict[str, object], messages: tuple[str, ...], harps: list[str]) -> None:
    """A program is a place in the set, a press the next harp; all else is passed over."""
    assert heard(HarpPedalSettings.model_validate(settings), *messages) == [ChangeHarp(harp) for harp in harps]


def test_two_pedals_on_one_port_share_it() -> None:
    """Arming and changing harps come out of one stream in their order."""
    port = MadePort()
    pedals: list[Callable[[], Pedal]] = [
        lambda: Footswitch(ArmSettings(acts="hold")),
        lambda: HarpPedal(HarpPedalSettings()),
    ]
    commands = MidiInput(pedals, port)
    commands.open()
    port.waiting = [bytes.fromhex("C001"), bytes.fromhex("B0407F"), bytes.fromhex("C000")]
    assert commands.poll() == [Arm(armed=False), ChangeHarp("2"), Arm(armed=True), ChangeHarp("1")]
    assert commands.poll() == []


@pytest.mark.parametrize(
    ("arm", "harp", "ports"),
    [("none", "none", 0), ("pedal", "none", 1), ("none", "pedal", 1), ("pedal", "pedal", 1), ("pedal", "other", 2)],
)
def test_each_port_is_opened_once(arm: str, harp: str, ports: int) -> None:
    """One way in for each port that is named, besides OSC."""
    settings = SendSettings.model_validate({"arm": {"port": arm}, "harp": {"port": harp}})
    inputs = make_inputs(settings, pytest.fail)
    assert [type(each) for each in inputs[1:]] == [MidiInput] * ports
