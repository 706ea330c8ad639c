"""The MPE zone: every rule of the standard kept by any performance, and every rule seen to fail when it is broken."""

from __future__ import annotations

import re
from collections.abc import Callable

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from bridge.base.events import Event, NoteOn
from bridge.send.budget import ByteBudget
from bridge.send.midi_encoder import Lane, MidiEncoder
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_off, note_on, point
from send.mpe_rules import broken_rules


class Kept:
    """A port that keeps what it is given."""

    def __init__(self) -> None:
        self.sent: list[bytes] = []

    def open(self) -> None:
        """Nothing to do."""

    def send(self, data: bytes) -> None:
        """Keep it."""
        self.sent.append(data)

    def close(self) -> None:
        """Nothing to do."""


def zone(**settings: object) -> MidiSettings:
    """Settings of an MPE zone."""
    return MidiSettings.model_validate({"mode": "mpe", **settings})


def played(events: list[Event], settings: MidiSettings) -> list[bytes]:
    """What a port gets from opening to closing."""
    port = Kept()
    output = MidiOutput(settings, SentPitch(), port)
    output.open()
    for event in events:
        output.send(event)
    output.close()
    return port.sent


def three_notes() -> list[bytes]:
    """A stream that keeps every rule, with three notes."""
    events: list[Event] = []
    for number in (1, 2, 3):
        events += [note_on(0.1 * number, number, breath=0.1 * number), note_off(0.1 * number + 0.05, number)]
    return played(events, zone(members=3))


@given(any_events, st.integers(1, 15), st.sampled_from([24, 48, 96]), st.sampled_from([100, 400, 2500, None]))
def test_any_performance_keeps_the_rules(
    events: list[Event], members: int, bend_range: int, budget: int | None
) -> None:
    """Whatever is played, with few members or many and however narrow the port: no rule of the standard is broken."""
    settings = zone(members=members, member_bend_range=bend_range, bytes_per_second=budget)
    assert broken_rules(played(events, settings), range_wanted=bend_range) == []


@given(any_events, st.integers(0, 60))
def test_a_panic_in_the_middle_keeps_the_rules(events: list[Event], at: int) -> None:
    """A panic ends what sounds, on every channel of the zone, and playing goes on by the rules."""
    port = Kept()
    output = MidiOutput(zone(), SentPitch(), port)
    output.open()
    for event in events[:at]:
        output.send(event)
    before = len(port.sent)
    output.panic()
    told = port.sent[before:]
    for channel in range(6):
        assert bytes((0xB0 | channel, 123, 0)) in told
        assert bytes((0xB0 | channel, 120, 0)) in told
        assert channel == 0 or bytes((0xE0 | channel, 0, 64)) in told
    for event in events[at:]:
        output.send(event)
    output.close()
    assert broken_rules(port.sent) == []


@given(any_events)
def test_another_library_reads_the_stream_whole(events: list[Event]) -> None:
    """Mido's parser, which knows only MIDI 1.0, finds the very messages that were sent and nothing between them."""
    sent = played(events, zone())
    parser = mido.Parser()
    parser.feed(b"".join(sent))
    assert [bytes(message.bytes()) for message in parser] == sent


def _drop(kind: int) -> Callable[[list[bytes]], list[bytes]]:
    """Leave out the first message with that status byte."""

    def without(stream: list[bytes]) -> list[bytes]:
        first = next(index for index, data in enumerate(stream) if data[0] == kind)
        return stream[:first] + stream[first + 1 :]

    return without


def _swap_first(first: bytes, second: bytes) -> Callable[[list[bytes]], list[bytes]]:
    """Swap the first of each of two messages."""

    def swapped(stream: list[bytes]) -> list[bytes]:
        one, other = stream.index(first), stream.index(second)
        stream[one], stream[other] = stream[other], stream[one]
        return stream

    return swapped


def _insert(data: str, before: int | None = None) -> Callable[[list[bytes]], list[bytes]]:
    """Put a message, in hex, before the first one with that status byte, or at the end."""

    def with_it(stream: list[bytes]) -> list[bytes]:
        where = len(stream)
        if before is not None:
            where = next(index for index, each in enumerate(stream) if each[0] == before)
        return [*stream[:where], bytes.fromhex(data), *stream[where:]]

    return with_it


@pytest.mark.parametrize(
    ("plant", "told"),
    [
        (lambda stream: stream[7:], "is not in the zone"),
        (_swap_first(bytes.fromhex("b06500"), bytes.fromhex("b06406")), "controller 100 before 101"),
        (lambda stream: [_retuned(data) for data in stream], "bends 12 semitones"),
        (_insert("904060", before=0x91), "a note on the manager channel"),
        (_insert("a14010"), "polyphonic pressure"),
        (_insert("d040"), "pressure of a note on the manager"),
        (_insert("e00040"), "a bend of the whole zone"),
        (lambda stream: _drop(0x81)([each for each in stream if each[1] not in (120, 123)]), "still sounding"),
        (_drop(0xE1), "without its own bend"),
        (_drop(0xD1), "without its own pressure"),
        (_insert("914060", before=0x82), "without its own|a second note|released later"),
        (_insert("b02300"), "fine half 35"),
        (_insert("b00605", before=0x91), "the manager bends 5"),
        (_insert("f8"), "no channel message"),
        (_insert("9b4060"), "is not in the zone"),
        (_insert("b02600", before=0xB0), "fine data entry for no parameter"),
        (_insert("b00603", before=0xB0), "data entry for parameter None"),
    ],
)
def test_every_rule_is_seen_to_fail(plant: Callable[[list[bytes]], list[bytes]], told: str) -> None:
    """A stream that keeps the rules, with one fault planted, is told for that fault."""
    stream = three_notes()
    assert broken_rules(stream) == []
    found = broken_rules(plant(list(stream)))
    assert re.search(told, "\n".join(found)), found


def _retuned(data: bytes) -> bytes:
    """The same, but 12 semitones where the range of the second member is set."""
    return bytes.fromhex("b2060c") if data == bytes.fromhex("b20630") else data


def test_each_note_takes_the_member_released_longest_ago() -> None:
    """Notes go round the members, so that one that still rings is not bent by the next."""
    begun = [data[0] & 0x0F for data in three_notes() if data[0] & 0xF0 == 0x90]
    assert begun == [1, 2, 3]


def test_what_is_sent_where() -> None:
    """Bend, pressure and brightness on the note's channel, blueness and lean on the manager's, in wire order.

    A quarter tone down of 48 semitones is 8192 / 96 = 85.3 steps: 8107 = 63 * 128 + 43 (2B 3F).
    """
    encoder = MidiEncoder(zone(), SentPitch())
    encoder.opening()
    begun = encoder.encode(note_on(0.0, 1, 71, bend_cents=-50.0, breath=1.0, bright=0.5, blueness=1.0, lean=0.0))
    wire = " ".join(data.hex(" ").upper() for item in begun for data in item.messages)
    assert wire == "E1 2B 3F D1 7F B1 4A 40 B0 14 7F B0 15 40 91 47 60"
    moved = encoder.encode(inflection(0.1, breath=0.0, blueness=0.0, bend_cents=-50.0, lean=0.0))
    assert [data.hex() for item in moved for data in item.messages] == ["d100", "b01400"]


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"mode": "mpe", "fourteen_bit": ["breath"]}, "7 bits"),
        ({"fourteen_bit": ["bright"]}, "no fine half"),
        ({"fourteen_bit": True, "lean": 52}, "lean and the fine half of blueness are both on controller 52"),
        ({"mode": "mpe", "bright": 11}, "breath and bright are both on controller 11"),
        ({"breath": 64}, "keeps ended notes sounding"),
        ({"thin": {"hz": 3}}, "thin"),
        ({"thin": {"bend": -1}}, "thin"),
        ({"members": 16}, "members"),
        ({"mode": "mpe", "channel": 5}, "leave channel out"),
    ],
)
def test_what_cannot_be_is_refused(settings: dict[str, object], told: str) -> None:
    """Settings that no port could carry are refused with words that say so."""
    with pytest.raises(ValidationError, match=told):
        MidiSettings.model_validate(settings)


def test_one_value_alone_can_be_fine_and_thinned() -> None:
    """``fourteen_bit: [breath]`` doubles the breath only; ``thin`` holds back the brightness only."""
    settings = MidiSettings(fourteen_bit=("breath",), thin={"bright": 500.0}, interval_ms=0.0, bytes_per_second=None)
    events: list[Event] = [note_on(0.0)]
    events += [inflection(0.01 * step, breath=0.01 * step, bright=0.01 * step) for step in range(1, 40)]
    sent = played([*events, note_off(0.4)], settings)
    assert sum(data[:2] == bytes.fromhex("b02b") for data in sent) >= 39
    assert not any(data[:2] == bytes.fromhex("b034") for data in sent)
    assert sum(data[:2] == bytes.fromhex("b04a") for data in sent) <= 2


def test_the_zone_is_told_again_in_a_rest_only() -> None:
    """What was connected later learns of the zone in a rest of a second, five seconds after the last time."""
    events: list[Event] = []
    for number in range(1, 11):
        events += [note_on(number, number), note_off(number + 0.9, number), point(number + 0.95)]
    events += [point(11.0 + 0.1 * step) for step in range(40)]
    events += [note_on(15.2, 11), note_off(16.0, 11)]
    sent = played(events, zone())
    opened = [index for index, data in enumerate(sent) if data == bytes.fromhex("b00605")]
    assert [sum(data[0] & 0xF0 == 0x90 for data in sent[:index]) for index in opened] == [0, 10]


@given(any_events, st.integers(1, 4), st.sampled_from([100, 2500, None]), st.sampled_from([0.0, 4.0, 200.0]))
def test_every_note_begins_with_its_own_values(
    events: list[Event], members: int, budget: int | None, interval_ms: float
) -> None:
    """However few the members and narrow the port: at its Note On a channel has the values that were meant for it.

    The values are reckoned here from the event: cents of 48 semitones in 8192 steps (MIDI 1.0), 7 bits from 0..1.
    """
    settings = zone(
        members=members, bytes_per_second=budget, thin=dict.fromkeys(("bend", "breath", "bright"), interval_ms)
    )
    meant = [
        (round(event.inflection.bend_cents / 4800 * 8192), event.inflection.breath * 127, event.inflection.bright * 127)
        for event in events
        if isinstance(event, NoteOn)
    ]
    now: dict[tuple[int, int], int] = {}
    found = []
    for data in played(events, settings):
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        if kind == 0xE0:
            now[kind, channel] = data[1] + 128 * data[2] - 8192
        elif kind == 0xD0:
            now[kind, channel] = data[1]
        elif kind == 0xB0 and data[1] == 74:
            now[kind, channel] = data[2]
        elif kind == 0x90:
            found.append((now[0xE0, channel], now[0xD0, channel], now[0xB0, channel]))
    assert len(found) == len(meant)
    for got, want in zip(found, meant, strict=True):
        assert got == pytest.approx(want, abs=1.01)


@given(any_events, st.integers(100, 4000))
def test_any_second_of_a_zone_stays_within_the_budget(events: list[Event], a_second: int) -> None:
    """When values go out that begin no note, the second behind them is within the budget; the last of each goes out."""
    settings = zone(bytes_per_second=a_second, interval_ms=0.0)
    encoder, budget = MidiEncoder(settings, SentPitch()), ByteBudget(settings)
    last: dict[tuple[Lane, int], bytes] = {}
    spent: list[tuple[float, int]] = []
    wire: dict[tuple[Lane, int], bytes] = {}
    lane_of: dict[tuple[int, int], Lane] = {}
    steps: list[tuple[float, Event | None]] = [(event.ready_s, event) for event in events]
    end = events[-1].ready_s if events else 0.0
    steps += [(end + 0.1 * step, None) for step in range(1, 301)]
    for time_s, event in steps:
        asked = encoder.encode(event) if event is not None else []
        for item in asked:
            if item.lane is not Lane.NOTES:
                last[item.place] = item.messages[-1]
                lane_of[_kind(item.messages[-1])] = item.lane
        went = budget.pass_on(time_s, asked)
        values = [data for data in went if _kind(data) in lane_of]
        wire |= {(lane_of[_kind(data)], data[0] & 0x0F): data for data in values}
        spent.append((time_s, sum(map(len, went))))
        if values and not any(data[0] & 0xF0 == 0x90 for data in went):
            notes_now = sum(len(data) for data in went if _kind(data) not in lane_of)
            second = sum(size for at, size in spent if time_s - 1.0 < at) - notes_now
            assert second <= a_second + 1e-6
    assert wire == last


def _kind(data: bytes) -> tuple[int, int]:
    """What tells values apart: the kind of message, and the controller of a controller."""
    kind = data[0] & 0xF0
    return kind, data[1] if kind == 0xB0 else 0
