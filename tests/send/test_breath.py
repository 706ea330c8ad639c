"""What carries the breath: a controller or channel pressure, on one channel and in a zone."""

from __future__ import annotations

import re
from collections.abc import Callable

import mido
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from bridge.base.events import Event
from bridge.send.midi_encoder import MidiEncoder
from bridge.send.midi_settings import MidiSettings
from bridge.send.pitch import SentPitch
from send.made_events import any_events, inflection, note_off, note_on
from send.mpe_rules import broken_rules
from send.test_mpe import played

#: MIDI 1.0, table III: the Breath Controller, and expression.
BREATH_CONTROLLER, EXPRESSION = 2, 11


def dump(events: list[Event], **settings: object) -> str:
    """Hex of what the events put on the wire."""
    encoder = MidiEncoder(MidiSettings.model_validate(settings), SentPitch())
    encoder.opening()
    items = [item for event in events for item in encoder.encode(event)]
    return " ".join(data.hex(" ").upper() for item in items for data in item.messages)


# A note of full breath that moves to none; the rest is off but the bend and, in a zone, where it shows the channel, the
# lean. Written by hand from MIDI 1.0, tables I to III: Bn controller value, Dn pressure, En bend, 9n note.
_MOVED: list[Event] = [note_on(0.0, breath=1.0, lean=0.0), inflection(0.1, breath=0.0, lean=0.0)]


@pytest.mark.parametrize(
    ("text", "wire"),
    [
        ("{}", "E0 00 40 B0 0B 7F B0 15 40 90 47 60 B0 0B 00"),
        ("{breath: 2}", "E0 00 40 B0 02 7F B0 15 40 90 47 60 B0 02 00"),
        ("{breath: pressure, channel: 3}", "E2 00 40 D2 7F B2 15 40 92 47 60 D2 00"),
        ("{breath: off}", "E0 00 40 B0 15 40 90 47 60"),
        ("{mode: mpe}", "E1 00 40 D1 7F B0 15 40 91 47 60 D1 00"),
        ("{mode: mpe, breath: pressure}", "E1 00 40 D1 7F B0 15 40 91 47 60 D1 00"),
        ("{mode: mpe, breath: 2}", "E1 00 40 D1 7F B0 15 40 91 47 60 D1 00"),
        ("{mode: mpe, mpe_breath: controller}", "E1 00 40 B1 0B 7F B0 15 40 91 47 60 B1 0B 00"),
        ("{mode: mpe, mpe_breath: controller, breath: 2}", "E1 00 40 B1 02 7F B0 15 40 91 47 60 B1 02 00"),
        ("{mode: mpe, mpe_breath: controller, breath: null}", "E1 00 40 B0 15 40 91 47 60"),
        ("{mode: mpe, breath: null}", "E1 00 40 B0 15 40 91 47 60"),
        # Expression has its fine half on 43 (2B); pressure has none.
        ("{fourteen_bit: true, lean: off}", "E0 00 40 B0 0B 7F B0 2B 7F 90 47 60 B0 0B 00 B0 2B 00"),
        ("{fourteen_bit: true, lean: off, breath: pressure}", "E0 00 40 D0 7F 90 47 60 D0 00"),
        (
            "{fourteen_bit: [breath], mode: mpe, mpe_breath: controller}",
            "E1 00 40 B1 0B 7F B1 2B 7F B0 15 40 91 47 60 B1 0B 00 B1 2B 00",
        ),
    ],
)
def test_the_breath_goes_out_as_the_settings_say(text: str, wire: str) -> None:
    """Right after the bend, before the Note On, and alone when nothing else moves."""
    assert dump(_MOVED, bright=None, blueness=None, **yaml.safe_load(text)) == wire


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"breath": "pressure", "fourteen_bit": ["breath"]}, "channel pressure, which has 7 bits"),
        ({"mode": "mpe", "fourteen_bit": ["breath"]}, "channel pressure, which has 7 bits"),
        ({"breath": "pressure", "mpe_breath": "controller"}, "give breath a controller"),
        ({"mpe_breath": 11}, "mpe_breath"),
        ({"breath": "presure"}, "breath"),
        ({"bright": "pressure"}, "bright"),
    ],
)
def test_what_cannot_be_is_refused(settings: dict[str, object], told: str) -> None:
    """Settings that no port could carry are refused with words that say so."""
    with pytest.raises(ValidationError, match=told):
        MidiSettings.model_validate(settings)


def test_pressure_can_be_thinned() -> None:
    """Not more than one in 200 ms, of values that come every 10."""
    events: list[Event] = [note_on(0.0), *(inflection(0.01 * step, breath=0.01 * step) for step in range(1, 60))]
    settings = MidiSettings(breath="pressure", thin={"breath": 200.0}, interval_ms=0.0, bytes_per_second=None)
    pressures = [data for data in played([*events, note_off(0.6)], settings) if data[0] == 0xD0]
    assert 3 <= len(pressures) <= 4


@given(any_events, st.sampled_from([BREATH_CONTROLLER, EXPRESSION]), st.booleans(), st.sampled_from([100, 2500, None]))
def test_a_zone_with_a_controller_for_the_breath_keeps_the_other_rules(
    events: list[Event], number: int, fine: bool, budget: int | None
) -> None:
    """Whatever is played and however narrow the port; without being told of it the checker minds the controller."""
    settings = MidiSettings(
        mode="mpe", mpe_breath="controller", breath=number, fourteen_bit=fine, bytes_per_second=budget
    )
    sent = played(events, settings)
    assert broken_rules(sent, breath=number) == []
    begun = any(data[0] & 0xF0 == 0x90 for data in sent)
    assert any(f"controller {number} on member" in what for what in broken_rules(sent)) == begun


@given(any_events)
def test_another_library_reads_pressure_on_one_channel(events: list[Event]) -> None:
    """Mido's parser finds the very messages that were sent, and no controller 11 among them."""
    sent = played(events, MidiSettings(breath="pressure"))
    parser = mido.Parser()
    parser.feed(b"".join(sent))
    read = list(parser)
    assert [bytes(message.bytes()) for message in read] == sent
    assert not any(message.is_cc(EXPRESSION) for message in read)


def _with(data: str, before: int) -> Callable[[list[bytes]], list[bytes]]:
    """Put a message, in hex, before the first one with that status byte."""

    def inserted(stream: list[bytes]) -> list[bytes]:
        where = next(index for index, each in enumerate(stream) if each[0] == before)
        return [*stream[:where], bytes.fromhex(data), *stream[where:]]

    return inserted


@pytest.mark.parametrize(
    ("plant", "told"),
    [
        (lambda stream: [data for data in stream if data[:2] != bytes.fromhex("b10b")], "without its own breath"),
        (_with("d140", before=0x91), "pressure beside the controller"),
        (_with("b00b40", before=0x91), "the breath of a note on the manager"),
        (_with("b11440", before=0x91), "controller 20 on member 2"),
    ],
)
def test_the_checker_sees_every_fault_of_a_breath(plant: Callable[[list[bytes]], list[bytes]], told: str) -> None:
    """A stream that keeps the rules, with one fault planted, is told for that fault."""
    stream = played([note_on(0.0), note_off(0.1)], MidiSettings(mode="mpe", mpe_breath="controller"))
    assert broken_rules(stream, breath=EXPRESSION) == []
    found = broken_rules(plant(list(stream)), breath=EXPRESSION)
    assert re.search(told, "\n".join(found)), found
