"""The bytes of MIDI messages against hex dumps written by hand from the standard."""

from __future__ import annotations

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.send import midi_messages as midi
from bridge.send.midi_settings import MidiSettings

channels = st.integers(1, 16)
sevens = st.integers(0, 127)

# MIDI 1.0 Detailed Specification 4.2.1, table I (summary of status bytes): 8n note off, 9n note on, Bn control change,
# En pitch bend change with the least significant seven bits first.
DUMPS = [
    (midi.note_on(1, 60, 96), "90 3C 60"),  # middle C
    (midi.note_on(16, 127, 127), "9F 7F 7F"),
    (midi.note_off(1, 60), "80 3C 40"),  # 64 = release velocity not measured
    (midi.note_off(10, 0), "89 00 40"),
    (midi.control(1, 11, 127), "B0 0B 7F"),  # expression
    (midi.control(1, 74, 0), "B0 4A 00"),  # brightness
    (midi.bend(1, 8192), "E0 00 40"),  # centre
    (midi.bend(1, 0), "E0 00 00"),
    (midi.bend(1, 16383), "E0 7F 7F"),
    (midi.bend(3, 8193), "E2 01 40"),
    # RPN 0, pitch bend sensitivity: CC 101 and 100 select it, CC 6 semitones, CC 38 cents.
    (b"".join(midi.bend_range(1, 2)), "B0 65 00 B0 64 00 B0 06 02 B0 26 00"),
    (b"".join(midi.bend_range(2, 48)), "B1 65 00 B1 64 00 B1 06 30 B1 26 00"),
    # A controller 0..31 pairs with number + 32: 20 = 14h, 52 = 34h; 12345 = 96 * 128 + 57.
    (b"".join(midi.control_pair(1, 20, 12345)), "B0 14 60 B0 34 39"),
]


@pytest.mark.parametrize(("data", "dump"), DUMPS)
def test_bytes_are_those_of_the_standard(data: bytes, dump: str) -> None:
    """Each message is what the tables of the standard say."""
    assert data == bytes.fromhex(dump)


@given(channels, sevens, st.integers(1, 127))
def test_notes_are_read_back_by_another_library(channel: int, note: int, velocity: int) -> None:
    """Mido reads the same channel, note and velocity out of our bytes."""
    on = mido.Message.from_bytes(midi.note_on(channel, note, velocity))
    off = mido.Message.from_bytes(midi.note_off(channel, note))
    assert (on.type, on.channel + 1, on.note, on.velocity) == ("note_on", channel, note, velocity)
    assert (off.type, off.channel + 1, off.note) == ("note_off", channel, note)
    assert midi.is_note_on(midi.note_on(channel, note, velocity))
    assert midi.is_note_off(midi.note_off(channel, note))


@given(channels, sevens, sevens)
def test_controls_are_read_back_by_another_library(channel: int, controller: int, value: int) -> None:
    """Mido reads the same controller and value out of our bytes, which are no note."""
    data = midi.control(channel, controller, value)
    read = mido.Message.from_bytes(data)
    assert (read.type, read.channel + 1, read.control, read.value) == ("control_change", channel, controller, value)
    assert not midi.is_note_on(data)
    assert not midi.is_note_off(data)


@given(channels, st.integers(0, 16383))
def test_bends_are_read_back_by_another_library(channel: int, value: int) -> None:
    """Mido, which counts from the centre, reads the same bend out of our bytes."""
    read = mido.Message.from_bytes(midi.bend(channel, value))
    assert (read.type, read.channel + 1, read.pitch) == ("pitchwheel", channel, value - 8192)


@given(channels, st.integers(0, 31), st.integers(0, 16383))
def test_fine_controls_are_read_back_as_a_pair(channel: int, controller: int, value: int) -> None:
    """The coarse half comes first and both together are the value."""
    coarse, fine = (mido.Message.from_bytes(data) for data in midi.control_pair(channel, controller, value))
    assert (coarse.control, fine.control) == (controller, controller + 32)
    assert coarse.value * 128 + fine.value == value


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: midi.note_on(0, 60, 96), "channel 0"),
        (lambda: midi.note_on(17, 60, 96), "channel 17"),
        (lambda: midi.note_on(1, 128, 96), "note 128"),
        (lambda: midi.note_on(1, 60, 0), "Note Off"),
        (lambda: midi.note_on(1, 60, 128), "velocity 128"),
        (lambda: midi.note_off(1, -1), "note -1"),
        (lambda: midi.control(1, 128, 0), "controller 128"),
        (lambda: midi.control(1, 11, -1), "value -1"),
        (lambda: midi.bend(1, 16384), "high seven bits 128"),
        (lambda: midi.bend(1, -1), "high seven bits -1"),
        (lambda: midi.control_pair(1, 74, 0), "74"),
    ],
)
def test_a_value_out_of_range_is_named(make: object, said: str) -> None:
    """What does not fit into its byte is refused by name."""
    assert callable(make)
    with pytest.raises(ValueError, match=said):
        make()


def test_our_own_controllers_are_undefined_in_the_standard() -> None:
    """Blueness and lean use numbers that MIDI 1.0, table III, leaves undefined."""
    undefined = {3, 9, 14, 15, *range(20, 32), *range(85, 91), *range(102, 120)}
    assert {MidiSettings().blueness, MidiSettings().lean} <= undefined
