"""Whatever event cannot be encoded, and wherever in it, no note hangs and playing goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pythonosc.osc_message_builder import BuildError

from bridge.base.events import Event
from bridge.send import midi_messages, osc_messages
from bridge.send.midi_encoder import MidiEncoder
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_settings import MidiSettings
from bridge.send.osc_encoder import OscEncoder
from bridge.send.output import Outputs
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_off, note_on, point
from send.test_any_output_fault import FaultyPort, play, played
from send.test_osc_faults import MadeSocket, over

_performances = st.lists(st.tuples(st.integers(60, 63), st.integers(0, 4)), min_size=1, max_size=15).map(played)
_events = _performances | any_events
_numbers = st.frozensets(st.integers(1, 150), min_size=1, max_size=40)
_SINGLE, _ZONE = MidiSettings(), MidiSettings.model_validate({"mode": "mpe", "members": 3})


class Failing:
    """Makes a function fail at these of its calls, the first one being number 1."""

    def __init__(self, make: Callable[..., Any], calls: frozenset[int]) -> None:
        self._make, self.calls = make, calls
        self.count = 0

    def __call__(self, *values: object) -> Any:  # noqa: ANN401 -- stands for any function
        """Fail, or make it."""
        self.count += 1
        if self.count in self.calls:
            raise ValueError("planned")
        return self._make(*values)


@contextmanager
def failing(module: object, name: str, calls: frozenset[int]) -> Iterator[Failing]:
    """Let the function that every message of that kind is made by fail so."""
    with pytest.MonkeyPatch.context() as patch:
        made = Failing(getattr(module, name), calls)
        patch.setattr(module, name, made)
        yield made


@given(_events, _numbers, st.frozensets(st.integers(0, 60), max_size=4), st.sampled_from([_SINGLE, _ZONE]))
def test_no_note_hangs_where_a_midi_message_cannot_be_made(
    events: list[Event], calls: frozenset[int], panics: frozenset[int], settings: MidiSettings
) -> None:
    """Any message of any event: what was begun has its own Note Off by the end, without All Notes Off (MIDI 1.0)."""
    port = FaultyPort()
    outputs = Outputs([MidiOutput(settings, SentPitch(), port, port.attend)], lambda *_: None)
    outputs.open()
    with failing(midi_messages, "message", calls) as made:
        play(outputs, events, panics, port)
        made.calls = frozenset()
        outputs.attend(1000.0)
        assert len(port.synth.sounding) <= 1
        outputs.send(note_on(1000.0, 999, 70))
        assert list(port.synth.sounding.values()) == [96]
        outputs.close()
    assert port.synth.sounding == {}
    for place in set(port.ons):
        assert port.offs.count(place) >= port.ons.count(place)


def test_what_silences_cannot_be_made_as_the_port_goes_away() -> None:
    """The Note Off is owed all the same, and comes first when the port is back."""
    port = FaultyPort(frozenset({2}))
    outputs = Outputs([MidiOutput(_SINGLE, SentPitch(), port, port.attend)], lambda *_: None)
    outputs.open()
    outputs.send(note_on(0.0, 1, 60))
    outputs.attend(0.0)
    with failing(midi_messages, "message", frozenset({2})):
        outputs.attend(0.1)
    assert port.offs == []
    outputs.attend(0.2)
    assert port.offs == [(0, 60)]
    outputs.close()


@given(_events, _numbers)
def test_no_note_hangs_where_an_osc_message_cannot_be_made(events: list[Event], calls: frozenset[int]) -> None:
    """Any message of any event: each ``on`` that was heard has its ``off`` by the end, and the next note is heard."""
    with pytest.MonkeyPatch.context() as patch, failing(osc_messages, "_message", frozenset()) as made:
        ear = MadeSocket()
        outputs = Outputs([over(ear, patch)], lambda *_: None)
        outputs.open()
        made.count, made.calls = 0, calls
        for number, event in enumerate(events):
            outputs.send(event)
            outputs.attend(0.05 * number)
        made.calls = frozenset()
        outputs.send(note_on(1000.0, 999))
        assert ear.ids[-1] == ("on", 999)
        outputs.close()
    sounding: list[object] = []
    for kind, note_id in ear.ids:
        if kind == "on":
            assert sounding == []
            sounding.append(note_id)
        else:
            sounding.remove(note_id)
    assert sounding == []


def _wire(encode: Callable[[Event], Sequence[object]], events: list[Event]) -> list[object]:
    """What comes of each event, or that it raised."""
    went: list[object] = []
    for event in events:
        try:
            went.append(encode(event))
        except ValueError:
            went.append("raised")
    return went


@given(_events, st.integers(0, 60), st.sampled_from([_SINGLE, _ZONE]))
def test_a_note_that_midi_does_not_have_changes_nothing(events: list[Event], at: int, settings: MidiSettings) -> None:
    """All other events give the very bytes that they give without it: MIDI 1.0 has the notes 0 to 127."""
    bad = note_on(0.0, 12345, 128, bend_cents=33.0, breath=0.33, lean=0.33)
    encoder, untouched = (MidiEncoder(settings, SentPitch()) for _ in range(2))
    went = _wire(encoder.encode, [*events[:at], bad, *events[at:]])
    assert went.pop(min(at, len(events))) == "raised"
    assert went == _wire(untouched.encode, events)
    assert encoder.panic() == untouched.panic()


@given(
    _events,
    st.integers(0, 60),
    st.sampled_from(
        [
            note_on(float("inf"), 12345),
            note_on(0.0, 2**31),
            note_on(0.0, 12345, breath=float("nan")),
            replace(note_on(0.0, 12345), inflection=inflection(0.0, 12345, degree="\0")),
            point(0.0, hz=float("nan")),
        ]
    ),
)
def test_what_osc_cannot_carry_changes_nothing(events: list[Event], at: int, bad: Event) -> None:
    """All other events give the very messages that they give without it: OSC 1.0 has 32-bit numbers and no zero byte.

    Infinity and NaN are refused by the contract, since few receivers look at what they get.
    """
    encoder, untouched = (OscEncoder(0.0, SentPitch(), "1.0") for _ in range(2))
    went = _wire(encoder.encode, [*events[:at], bad, *events[at:]])
    assert went.pop(min(at, len(events))) == "raised"
    assert went == _wire(untouched.encode, events)
    assert encoder.release() == untouched.release()


def test_a_note_whose_end_cannot_be_encoded_is_ended_with_the_next_look() -> None:
    """Its Note Off goes out within the 50 ms that lie between two looks, not with the note after it."""
    port = FaultyPort()
    outputs = Outputs([MidiOutput(_SINGLE, SentPitch(), port, port.attend)], lambda *_: None)
    outputs.open()
    outputs.send(note_on(0.0, 1, 60))
    with failing(midi_messages, "message", frozenset({1, 2})) as made:
        outputs.send(note_off(0.1))
        assert port.offs == []
        made.calls = frozenset()
        outputs.attend(0.1)
    assert port.offs == [(0, 60)]
    outputs.close()


def test_a_datagram_that_cannot_be_built_ends_the_note(monkeypatch: pytest.MonkeyPatch) -> None:
    """A degree that is no text (half a surrogate pair, which UTF-8 does not have) is told, and the off is sent."""
    ear = MadeSocket()
    osc = over(ear, monkeypatch)
    osc.send(note_on(0.0))
    with pytest.raises(BuildError):
        osc.send(inflection(0.1, degree="\ud800"))
    osc.attend(10.0)
    assert ear.ids == [("on", 1), ("off", 1)]
    osc.close()
