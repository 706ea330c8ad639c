"""OSC bytes against hex dumps written by hand from the standard, and read by a reader written from it."""

from __future__ import annotations

import math
import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event, Inflection, NoteOff, NoteOn, PitchPoint
from bridge.send import osc_messages as osc
from bridge.send.osc_messages import OscMessage
from bridge.send.pitch import SentPitch
from send import osc_reader
from send.made_events import any_events, inflection, note_off, note_on, point

# OpenSound Control Specification 1.0: strings end with zeros up to a multiple of four bytes (one to four of them),
# int32 and float32 are big-endian. The first two are the examples of the specification itself.
DUMPS = [
    (
        OscMessage("/oscillator/4/frequency", "f", (440.0,)),
        "2f6f7363 696c6c61 746f722f 342f6672 65717565 6e637900 2c660000 43dc0000",
    ),
    (
        OscMessage("/foo", "iisff", (1000, -1, "hello", 1.234, 5.678)),
        "2f666f6f 00000000 2c696973 66660000 000003e8 ffffffff 68656c6c 6f000000 3f9df3b6 40b5b22d",
    ),
    # /reedwire/off is 13 characters: three zeros; ",ii" three: one zero; 1.5 s = 1500 ms = 5dch.
    (osc.note_off(note_off(1.5, 7)), "2f726565 64776972 652f6f66 66000000 2c696900 000005dc 00000007"),
    # /reedwire/on is 12: four zeros; ",iiisff" 7: one; the degree "b3": two; -85.0 = c2aa0000, 0.75 = 3f400000.
    (
        osc.note_on(note_on(2.0, 3, 71, 0.75, bend_cents=-85.0, degree="b3"), SentPitch()),
        "2f726565 64776972 652f6f6e 00000000 2c696969 73666600 000007d0 00000003 00000047 62330000 c2aa0000 3f400000",
    ),
    # /reedwire/inflect is 17: three; ",iifffff" 8: four; -50.0 = c2480000, 1.0 = 3f800000, 0.0, 0.5 = 3f000000.
    (
        osc.inflect(
            inflection(0.25, 3, bend_cents=-50.0, blueness=1.0, lean=0.0, breath=0.5, bright=0.25), SentPitch()
        ),
        (
            "2f726565 64776972 652f696e 666c6563 74000000 2c696966 66666666 00000000"
            "000000fa 00000003 c2480000 3f800000 00000000 3f000000 3e800000"
        ),
    ),
    # /reedwire/degree is 16: four; ",iis" 4: four; "3": three.
    (
        osc.degree(inflection(0.001, 2, degree="3")),
        "2f726565 64776972 652f6465 67726565 00000000 2c696973 00000000 00000001 00000002 33000000",
    ),
    # /reedwire/hello is 15: one; contract version 1; "0.1.0" 5: three.
    (
        osc.hello(5.0, "0.1.0"),
        "2f726565 64776972 652f6865 6c6c6f00 2c696973 00000000 00001388 00000001 302e312e 30000000",
    ),
    # /reedwire/pitch is 15: one; ",iffff" 6: two; 440.0 = 43dc0000, 400.0 = 43c80000, -20.0 = c1a00000, 1.0.
    (
        osc.pitch_point(PitchPoint(0.004, 0.008, 440.0, 400.0, -20.0, 1.0)),
        "2f726565 64776972 652f7069 74636800 2c696666 66660000 00000004 43dc0000 43c80000 c1a00000 3f800000",
    ),
]


@pytest.mark.parametrize(("message", "dump"), DUMPS)
def test_bytes_are_those_of_the_standard(message: OscMessage, dump: str) -> None:
    """Each datagram is what the standard says, zeros included."""
    assert message.data == bytes.fromhex(dump)


def messages_of(event: Event) -> list[OscMessage]:
    """The messages an event can become."""
    match event:
        case PitchPoint():
            return [osc.pitch_point(event)]
        case NoteOn():
            return [osc.note_on(event, SentPitch())]
        case NoteOff():
            return [osc.note_off(event)]
    return [osc.inflect(event, SentPitch()), osc.degree(event)]


@given(any_events)
def test_every_message_is_read_back(events: list[Event]) -> None:
    """The reader finds address, types and values again, floats to 32 bits, aligned to four bytes."""
    for message in (message for event in events for message in messages_of(event)):
        address, types, arguments = osc_reader.read(message.data)
        assert (address, types) == (message.address, message.types)
        for got, sent in zip(arguments, message.arguments, strict=True):
            wanted = struct.unpack(">f", struct.pack(">f", sent))[0] if isinstance(sent, float) else sent
            assert got == wanted


@given(st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=20))
def test_any_word_keeps_the_alignment(word: str) -> None:
    """Whatever its length in UTF-8, a string is padded to four bytes and read back."""
    assert osc_reader.read(osc.hello(0.0, word).data) == ("/reedwire/hello", "iis", [0, 1, word])


def test_numpy_scalars_become_plain_numbers() -> None:
    """What quantise may hand on as numpy values goes out like any other."""
    event = PitchPoint(np.float64(1.0), np.float64(1.0), *np.array([440.0, 3.5, -20.0, 1.0], dtype=np.float32))
    message = osc.pitch_point(event)
    assert [type(value) for value in message.arguments] == [int, float, float, float, float]
    assert osc_reader.read(message.data)[2] == [1000, 440.0, 3.5, -20.0, 1.0]


@pytest.mark.parametrize("hz", [math.nan, math.inf, -math.inf, 1e39])
def test_what_is_no_32_bit_float_is_refused(hz: float) -> None:
    """NaN and infinity never reach a receiver."""
    with pytest.raises(ValueError, match="cannot go into OSC"):
        osc.pitch_point(point(0.0, hz=hz))


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: osc.note_off(note_off(math.nan)), "stream time nan"),
        (lambda: osc.note_off(note_off(0.0, 2**31)), "32 bits"),
        (lambda: osc.hello(0.0, "a\0b"), "zero byte"),
    ],
)
def test_what_does_not_fit_is_refused(make: object, said: str) -> None:
    """Times, numbers and words that OSC cannot carry raise."""
    assert callable(make)
    with pytest.raises(ValueError, match=said):
        make()


def test_the_bend_on_the_wire_is_the_one_to_sound() -> None:
    """Strength and tuning offset apply to on and inflect alike."""
    pitch = SentPitch(strength=0.5, offset_cents=10.0)
    on = osc.note_on(note_on(0.0, bend_cents=-80.0), pitch)
    moved: Inflection = inflection(0.0, bend_cents=-80.0)
    assert on.arguments[4] == osc.inflect(moved, pitch).arguments[2] == -30.0
