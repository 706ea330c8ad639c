"""Choosing a sound input by number or name."""

from __future__ import annotations

import pytest

from bridge.base.errors import UserError
from bridge.capture.devices import SoundDevice, find_again, find_input, find_output


def device(number: int, name: str, inputs: int = 2, *, api: str = "ALSA", default: bool = False) -> SoundDevice:
    """A made-up device."""
    return SoundDevice(number, name, api, inputs, 0, 48000.0, default)


DEVICES = [
    device(0, "Built-in Line", default=True),
    device(1, "Loudspeaker", 0),
    device(2, "USB Stage Mic"),
    device(3, "USB Desk Mic", 1, api="JACK"),
    device(4, "USB"),
]


@pytest.mark.parametrize(
    ("wanted", "number"),
    [("default", 0), (2, 2), ("3", 3), ("stage", 2), ("DESK mic", 3), ("built", 0), ("usb", 4), (" stage ", 2)],
)
def test_a_number_or_part_of_a_name_finds_the_device(wanted: str | int, number: int) -> None:
    """Case does not matter, and a full name goes before parts of other names."""
    assert find_input(DEVICES, wanted).number == number


def test_an_ambiguous_name_lists_the_candidates_and_only_those() -> None:
    """The message names number, host API and channels of each device that fits."""
    with pytest.raises(UserError, match="several") as error:
        find_input(DEVICES, "mic")
    message = str(error.value)
    assert "2: USB Stage Mic (ALSA, 2 in)" in message
    assert "3: USB Desk Mic (JACK, 1 in)" in message
    assert "Built-in" not in message


@pytest.mark.parametrize("wanted", ["trumpet", 1, "9", "loudspeaker"])
def test_what_is_no_input_lists_every_input(wanted: str | int) -> None:
    """An unknown name, an unknown number and a device without inputs get the list of inputs."""
    with pytest.raises(UserError, match="No sound input is") as error:
        find_input(DEVICES, wanted)
    for number in (0, 2, 3, 4):
        assert f"  {number}: " in str(error.value)
    assert "  1: " not in str(error.value)


def test_no_input_at_all_is_said() -> None:
    """A machine without any input gets one plain sentence."""
    with pytest.raises(UserError, match="no sound input on this machine"):
        find_input([DEVICES[1]], "default")


def test_without_a_default_the_list_is_shown() -> None:
    """When the sound system names no default, the user is asked to choose."""
    with pytest.raises(UserError, match="Choose one"):
        find_input(DEVICES[1:], "default")


def test_an_output_is_found_by_the_same_rules() -> None:
    """Devices without outputs do not count, and the list shows the outputs."""
    outputs = [
        SoundDevice(0, "USB", "ALSA", 1, 2, 48000.0, is_default_input=True),
        SoundDevice(1, "USB", "ALSA", 1, 0, 48000.0, is_default_input=False),
        SoundDevice(2, "Speakers", "ALSA", 0, 8, 48000.0, is_default_input=False, is_default_output=True),
    ]
    assert find_output(outputs, "default").number == 2
    assert find_output(outputs, "usb").number == 0
    with pytest.raises(
        UserError, match=r"No sound output is 'x'.*\n  0: USB \(ALSA, 2 out\)\n  2: .*8 out, the default\)$"
    ):
        find_output(outputs, "x")
    with pytest.raises(UserError, match=r"no sound output on this machine. Connect a loudspeaker"):
        find_output(outputs[1:2], "default")


def test_an_input_that_was_there_before_is_found_under_its_new_number() -> None:
    """Numbers shift when something is plugged in; name and host API tell it from others."""
    before = DEVICES[3]
    shifted = [device(5, "USB Desk Mic", api="ALSA"), device(7, "USB Desk Mic", 1, api="JACK"), *DEVICES[:3]]
    assert find_again(shifted, before).number == 7


def test_of_two_alike_it_is_the_one_with_the_old_number() -> None:
    """Two microphones of one kind: the other one is never taken for it."""
    twins = [device(2, "USB Stage Mic"), device(6, "USB Stage Mic")]
    assert find_again(twins, twins[1]).number == 6
    with pytest.raises(UserError, match="USB Stage Mic is not there"):
        find_again([device(3, "USB Stage Mic"), device(6, "USB Stage Mic")], twins[0])


def test_an_input_that_is_gone_is_not_replaced_by_another() -> None:
    """Not by one of another host API, and not by one that has lost its inputs."""
    for there in ([device(2, "USB Stage Mic", api="JACK")], [device(2, "USB Stage Mic", 0), DEVICES[0]]):
        with pytest.raises(UserError, match="USB Stage Mic is not there"):
            find_again(there, DEVICES[2])
