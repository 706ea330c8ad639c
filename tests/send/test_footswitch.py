"""From a footswitch's MIDI messages to commands.

Source: MIDI 1.0 Detailed Specification 4.2.1 (Bn = controller, a switch is on from 64; 9n = Note On, with velocity 0 a
Note Off; 8n = Note Off).
"""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from bridge.base.commands import Arm, Command
from bridge.send.footswitch import Footswitch
from bridge.send.midi_input import MidiInput
from bridge.send.settings import ArmSettings


def heard(settings: ArmSettings, *messages: str) -> list[Command]:
    """What these messages, in hex, ask for."""
    switch = Footswitch(settings)
    return [command for text in messages if (command := switch.hear(bytes.fromhex(text))) is not None]


@pytest.mark.parametrize(
    ("messages", "presses"),
    [
        (("B0 40 7F",), 1),
        (("B0 40 7F", "B0 40 00", "B0 40 7F", "B0 40 00"), 2),
        (("B0 40 7F", "B0 40 7F"), 2),  # a switch that sends only its presses
        (("B0 40 20", "B0 40 3F", "B0 40 40", "B0 40 50", "B0 40 7F", "B0 40 30"), 1),  # a pedal that goes down slowly
        (("BF 40 7F",), 1),  # any channel
        (("B0 41 7F", "90 40 7F", "D0 40", "E0 40 7F", "F8", ""), 0),  # everything else
    ],
)
def test_each_press_of_a_controller_changes_over(messages: tuple[str, ...], presses: int) -> None:
    """Crossing 64 upwards is a press, letting go is none."""
    assert heard(ArmSettings(), *messages) == [Arm()] * presses


@pytest.mark.parametrize(
    ("messages", "presses"),
    [(("99 24 01", "89 24 40", "99 24 7F", "99 24 00"), 2), (("99 25 7F", "B9 24 7F", "98 24 7F"), 0)],
)
def test_each_press_of_a_note_changes_over(messages: tuple[str, ...], presses: int) -> None:
    """Its number and channel count, its velocity does not, and velocity 0 is letting go."""
    settings = ArmSettings(sends="note", number=36, channel=10)
    assert heard(settings, *messages) == [Arm()] * presses


def test_a_switch_that_is_held_listens_while_it_is_on() -> None:
    """It begins disarmed; on and off are told once each, also by a latching switch."""
    settings = ArmSettings(acts="hold")
    assert Footswitch(settings).begin() == [Arm(armed=False)]
    assert Footswitch(ArmSettings()).begin() == []
    messages = ("B0 40 00", "B0 40 40", "B0 40 7F", "B0 40 3F", "B0 40 00")
    assert heard(settings, *messages) == [Arm(armed=True), Arm(armed=False)]


class MadePort:
    """A port with messages that wait in it."""

    def __init__(self) -> None:
        self.waiting: list[bytes] = []
        self.is_open = False

    def open(self) -> None:
        """Open."""
        self.is_open = True

    def read(self) -> list[bytes]:
        """What waits."""
        waiting, self.waiting = self.waiting, []
        return waiting

    def close(self) -> None:
        """Close."""
        self.is_open = False


def test_the_input_gives_the_commands_of_what_has_come() -> None:
    """The first poll says how it begins, later ones what was pressed since."""
    port = MadePort()
    commands = MidiInput([lambda: Footswitch(ArmSettings(acts="hold"))], port)
    commands.open()
    assert port.is_open
    port.waiting = [bytes.fromhex("B0407F"), bytes.fromhex("B04000"), bytes.fromhex("B0407F")]
    assert commands.poll() == [Arm(armed=False), Arm(armed=True), Arm(armed=False), Arm(armed=True)]
    assert commands.poll() == []
    commands.close()
    assert not port.is_open


@pytest.mark.parametrize("key", ["b", "B", "5", ".", "ä", "page-down", "f12", None])
def test_a_key_may_be_a_sign_or_a_name(key: str | None) -> None:
    """Letters, digits, signs and the names of other keys are taken."""
    assert ArmSettings(key=key).key == key


def test_a_digit_that_yaml_reads_as_a_number_is_a_key() -> None:
    """``key: 5`` in a settings file is the key 5."""
    assert ArmSettings.model_validate({"key": 5}).key == "5"


@pytest.mark.parametrize("key", ["q", "Q", " ", "", "bb", "\x1b", "page up", True])
def test_other_keys_are_refused(key: object) -> None:
    """Keys with a meaning of their own, control characters and unknown names."""
    with pytest.raises(ValidationError):
        ArmSettings.model_validate({"key": key})
