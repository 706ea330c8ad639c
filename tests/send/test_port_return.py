"""A MIDI port that is back under another name, or beside others that fit: taken up where it is sure, told where not.

Names end in numbers as ALSA's do, and those change (rtmidi, "client:port 20:0"; from memory).
"""

from __future__ import annotations

import pytest

from bridge.base.clock import ManualClock
from bridge.send.kept_port import PortNews
from bridge.send.midi_in_port import MidiInPort
from bridge.send.port_return import returned
from send.made_midi import GOOD, made_systems
from send.made_watch import Later, MadeWatch
from send.test_kept_port import MadeOut, Room
from send.test_midi_in_port import MadeIn

SYSTEM = f"system {GOOD}"
WAS = "Synth:Synth MIDI 1 20:0"


@pytest.mark.parametrize(
    ("wanted", "there", "back"),
    [
        ("synth", [WAS], WAS),
        ("synth", ["Piano 24:0", "Synth:Synth MIDI 1 28:0"], "Synth:Synth MIDI 1 28:0"),
        (WAS, ["Piano 24:0", "Synth:Synth MIDI 1 28:0"], "Synth:Synth MIDI 1 28:0"),
        ("synth", ["Synth:Synth MIDI 2 20:1", WAS], WAS),
        ("synth", ["Synth:Synth MIDI 2 28:1", "Synth:Synth MIDI 1 28:0"], "Synth:Synth MIDI 1 28:0"),
        ("synth", ["Synth:Synth MIDI 1 24:0", "Synth:Synth MIDI 1 28:0"], None),
        ("synth", ["Synth:Synth MIDI 2 28:1", "Synth:Synth MIDI 3 28:2"], None),
        (WAS, ["Synth:Synth MIDI 2 28:1"], None),
        ("20:0", ["Piano 20:0", "Synth:Synth MIDI 1 28:0"], "Synth:Synth MIDI 1 28:0"),
        ("20:0", ["Piano 20:0"], None),
        ("synth", ["Piano 24:0"], None),
        ("synth", [], None),
    ],
)
def test_only_what_is_surely_the_same_is_taken(wanted: str, there: list[str], back: str | None) -> None:
    """The one that fits, or the one of its old name, whatever its numbers."""
    assert returned(wanted, WAS, there) == back


@pytest.fixture
def room(monkeypatch: pytest.MonkeyPatch) -> Room:
    """A port called Synth that has just gone away from beside a piano."""
    MadeOut.made = []
    MadeOut.names = [WAS, "Piano 24:0"]
    made_systems(monkeypatch, MidiOut=MadeOut)
    room = Room("synth")
    room.port.open()
    room.watch.sees(SYSTEM, takes=(WAS, "Piano 24:0"), gives=("reedwire:reedwire",))
    room.attend()
    see(room, "Piano 24:0")
    assert room.attend() == PortNews.GONE
    return room


def see(room: Room, *names: str) -> None:
    """These are there now."""
    MadeOut.names = list(names)
    room.watch.sees(SYSTEM, takes=names, gives=("reedwire:reedwire",))


def test_the_same_name_is_taken_up_beside_others_that_fit(room: Room) -> None:
    """The words given at the start would fit two."""
    see(room, "Piano 24:0", "Synth:Synth MIDI 2 20:1", WAS)
    assert room.attend() == PortNews.SAME
    room.later.do()
    assert room.attend() == PortNews.BACK
    room.port.send(b"\x90\x3c\x60")
    assert MadeOut.made[-1].calls == [WAS, b"\x90\x3c\x60"]
    assert room.told[-1] == f"The MIDI port {WAS!r} is back."


def test_several_that_fit_are_told_once_and_the_one_that_is_left_is_taken(room: Room) -> None:
    """Nobody knows which is meant, and the line says what to do."""
    two = ("Synth:Synth A 28:0", "Synth:Synth B 32:0")
    for _ in range(2):
        see(room, "Piano 24:0", *two)
        room.attend()
    assert room.later.waiting == []
    assert room.told[1:] == [
        f"Several MIDI ports fit 'synth' now: {two[0]!r}, {two[1]!r}. Unplug the others, or begin anew with one."
    ]
    see(room, "Piano 24:0", two[1])
    room.attend()
    room.later.do()
    assert room.attend() == PortNews.BACK


def test_another_name_is_told_once(room: Room) -> None:
    """What was there before is no news, nor is a port of our own."""
    see(room, "Piano 24:0", "reedwire-in:reedwire-in")
    assert room.attend() == PortNews.SAME
    for _ in range(2):
        see(room, "Piano 24:0", "Other Name 28:0")
        room.attend()
    assert room.later.waiting == []
    unsure = "nothing says that it is the one that went away. If you mean it, begin anew."
    assert room.told[1:] == [f"There is a new MIDI port, 'Other Name 28:0'; {unsure}"]


def test_a_pedal_is_told_of_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the port that is played to."""
    MadeIn.made, MadeIn.names = [], ["Pedal 20:0"]
    made_systems(monkeypatch, MidiIn=MadeIn)
    told: list[str] = []
    watch = MadeWatch()
    port = MidiInPort("pedal", told.append, ManualClock(), watch=watch, background=Later())
    port.open()
    for names in (("Pedal 20:0",), (), ("Pedal A 24:0", "Pedal B 28:0")):
        watch.sees(SYSTEM, gives=names)
        port.read()
    assert told[-1].startswith("Several MIDI ports fit 'pedal' now: 'Pedal A 24:0', 'Pedal B 28:0'.")
