"""Events as MIDI: order, repetition, clipping, and that every on gets its off."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.events import Event, NoteOn
from bridge.base.units import cents_between, midi_to_hz
from bridge.send.midi_encoder import MidiEncoder, Outgoing, centred
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_off, note_on, point
from send.synth import Synth


def dump(items: list[Outgoing]) -> str:
    """Hex of all messages, one after the other."""
    return " ".join(data.hex(" ").upper() for item in items for data in item.messages)


def encoder(pitch: SentPitch | None = None, **settings: object) -> MidiEncoder:
    """An encoder that has been opened."""
    made = MidiEncoder(MidiSettings.model_validate(settings), pitch or SentPitch())
    made.opening()
    return made


def test_opening_sets_the_bend_range() -> None:
    """The first bytes are RPN 0 with two semitones (MIDI 1.0, 4.2.1: CC 101, 100, 6, 38)."""
    assert dump(MidiEncoder(MidiSettings(), SentPitch()).opening()) == "B0 65 00 B0 64 00 B0 06 02 B0 26 00"


def test_a_note_goes_out_in_wire_order() -> None:
    """Bend, breath, brightness, blueness, lean, Note On; at the next note the Note Off of the last comes first."""
    wire = encoder()
    # A quarter tone down of two semitones: 8192 - 8192 / 4 = 6144 = 48 * 128, so E0 00 30. Breath 1 = 7F, brightness
    # 0.5 = 63.5, rounded to even 64 = 40, blueness 1 = 7F, lean 0 = 40.
    begun = wire.encode(note_on(0.0, 1, 71, bend_cents=-50.0, breath=1.0, bright=0.5, blueness=1.0, lean=0.0))
    assert dump(begun) == "E0 00 30 B0 0B 7F B0 4A 40 B0 14 7F B0 15 40 90 47 60"
    next_one = wire.encode(note_on(0.5, 2, 67, bend_cents=0.0, breath=0.0, bright=0.0, blueness=0.0, lean=-1.0))
    assert dump(next_one) == "80 47 40 E0 00 40 B0 0B 00 B0 4A 00 B0 14 00 B0 15 00 90 43 60"


def test_what_has_not_changed_is_not_repeated() -> None:
    """The same inflection again puts nothing on the wire, one changed value only itself."""
    wire = encoder()
    wire.encode(note_on(0.0))
    assert wire.encode(inflection(0.01)) == []
    assert dump(wire.encode(inflection(0.02, breath=1.0))) == "B0 0B 7F"
    assert dump(wire.encode(note_off(0.03))) == "80 47 40"
    assert dump(wire.encode(note_on(0.04, 2, breath=1.0))) == "90 47 60"


def test_after_opening_again_every_value_is_sent_anew() -> None:
    """A port that was reconnected knows nothing."""
    wire = encoder()
    first = dump(wire.encode(note_on(0.0)))
    wire.encode(note_off(0.1))
    wire.opening()
    assert dump(wire.encode(note_on(0.2, 2))) == first


def test_controllers_can_be_moved_and_switched_off() -> None:
    """A remapped breath is CC 2 and what is off is not sent."""
    wire = encoder(breath=2, bright=None, blueness=None, lean=None, channel=16)
    assert dump(wire.encode(note_on(0.0, breath=1.0))) == "EF 00 40 BF 02 7F 9F 47 60"


def test_fourteen_bits_send_the_coarse_half_first() -> None:
    """Blueness on 20 and 52: half of 16383 is 8191.5, to even 8192 = 64 * 128; brightness 74 has no fine half."""
    wire = encoder(fourteen_bit=True, breath=None, lean=None)
    assert dump(wire.encode(note_on(0.0, blueness=0.5))) == "E0 00 40 B0 4A 40 B0 14 40 B0 34 00 90 47 60"


@pytest.mark.parametrize(("bend", "dumped"), [(900.0, "E0 7F 7F"), (-900.0, "E0 00 00"), (200.0, "E0 7F 7F")])
def test_a_bend_beyond_the_range_stays_at_its_end(bend: float, dumped: str) -> None:
    """Bends are clipped to the sent range."""
    wire = encoder()
    wire.encode(note_on(0.0))
    assert dump(wire.encode(inflection(0.1, bend_cents=bend))) == dumped


def test_strength_shrinks_the_bend_and_leaves_the_tuning_offset() -> None:
    """At strength 0 only the harp's own offset is left: 12.5 of 200 cents are 512 steps (E0 00 44)."""
    wire = encoder(SentPitch(strength=0.0, offset_cents=12.5))
    assert dump(wire.encode(note_on(0.0, bend_cents=-70.0))).startswith("E0 00 44")


def test_panic_ends_what_sounds_before_anything_that_may_be_ignored() -> None:
    """Note Off, 123, 120, bend to its centre; afterwards the note is over."""
    wire = encoder()
    wire.encode(note_on(0.0, bend_cents=50.0))
    assert dump(wire.panic()) == "80 47 40 B0 7B 00 B0 78 00 E0 00 40"
    assert wire.encode(note_off(0.1)) == []
    assert dump(wire.panic()) == "B0 7B 00 B0 78 00 E0 00 40"


def test_finish_leaves_the_channel_reset() -> None:
    """Note Off, CC 123 and 120, bend to its centre, Reset All Controllers (121); then nothing is known to sound."""
    wire = encoder()
    wire.encode(note_on(0.0, bend_cents=50.0))
    assert dump(wire.finish()) == "80 47 40 B0 7B 00 B0 78 00 E0 00 40 B0 79 00"
    assert wire.release() == []


def test_velocity_never_becomes_a_note_off() -> None:
    """The softest note has velocity 1, the loudest 127."""
    wire = encoder()
    assert wire.encode(note_on(0.0, velocity=0.0))[-1].messages == (bytes.fromhex("904701"),)
    assert wire.encode(note_on(0.1, velocity=2.0))[-1].messages == (bytes.fromhex("90477F"),)


def test_events_without_a_note_put_nothing_on_the_wire() -> None:
    """Points, and inflections and offs of a note that does not sound, are silent."""
    wire = encoder()
    assert [wire.encode(event) for event in (point(0.0), inflection(0.1), note_off(0.2))] == [[], [], []]


@given(any_events, st.sets(st.integers(0, 60)))
def test_every_on_gets_its_off_whatever_comes(events: list[Event], panics: set[int]) -> None:
    """One note sounds at a time, none is left after panic or the end, and each begins at its own bend."""
    wire = encoder(bend_range=12)
    synth = Synth()
    for item in wire.opening():
        for data in item.messages:
            synth.hear(data)
    begun: list[NoteOn] = []
    for index, event in enumerate(events):
        for data in (data for item in wire.encode(event) for data in item.messages):
            synth.hear(data)
        assert len(synth.sounding) <= 1
        begun += [event] if isinstance(event, NoteOn) else []
        if index in panics:
            for data in (data for item in wire.panic() for data in item.messages):
                synth.hear(data)
            assert not synth.sounding
    for data in (data for item in wire.release() for data in item.messages):
        synth.hear(data)
    assert not synth.sounding
    assert [note for note, _ in synth.begun] == [event.midi_note for event in begun]
    for (_, cents), event in zip(synth.begun, begun, strict=True):
        # Half a step of 1200 / 8192 cents; at the upper end of the range the last step is missing (16383).
        assert abs(cents - min(max(event.inflection.bend_cents, -1200.0), 1200.0)) <= 1200.0 / 8192 + 1e-9


@given(st.integers(36, 100), st.floats(-190.0, 190.0), st.floats(430.0, 450.0))
def test_the_pitch_on_the_wire_is_the_pitch_played(note: int, bend_cents: float, a4_hz: float) -> None:
    """Note and bend, decoded by 440 * 2**((n - 69) / 12) of MIDI 1.0, give the sounded Hz within half a step."""
    offset = cents_between(a4_hz, 440.0)
    wire = encoder(SentPitch(offset_cents=offset), bend_range=12)
    synth = Synth(range_cents={0: 1200.0})
    for item in wire.encode(note_on(0.0, midi_note=note, bend_cents=bend_cents)):
        for data in item.messages:
            synth.hear(data)
    played_hz = midi_to_hz(note, a4_hz) * 2.0 ** (bend_cents / 1200.0)
    ((got_note, got_cents),) = synth.begun
    assert abs(cents_between(midi_to_hz(got_note + got_cents / 100.0), played_hz)) <= 0.5 * 1200.0 / 8192 + 1e-6


@pytest.mark.parametrize(("value", "bits", "expected"), [(-1, 7, 0), (0, 7, 64), (1, 7, 127), (0, 14, 8192)])
def test_the_centre_of_a_centred_value_is_exact(value: float, bits: int, expected: int) -> None:
    """64 and 8192 are the centres that MIDI 1.0 gives to pan and pitch bend."""
    assert centred(value, bits) == expected
