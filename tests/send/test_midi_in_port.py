"""A MIDI port that a footswitch comes in by, with a stand-in for the MIDI system."""

from __future__ import annotations

import pytest

from bridge.base.clock import ManualClock
from bridge.base.errors import ClosedError, OutputError
from bridge.send.midi_in_port import MOST_AT_ONCE, MidiInPort
from bridge.send.midi_system import list_midi_ports
from send.made_midi import DEAD, GOOD, NO_VIRTUAL, MadeClient, made_systems
from send.made_watch import MadeWatch

SYSTEM = f"system {GOOD}"


class MadeIn(MadeClient):
    """One client of a made-up MIDI system, whose ports come and go."""

    names: list[str]
    made: list[MadeIn]
    refuses = False

    def __init__(self, api: int, name: str) -> None:
        super().__init__(api, name)
        self.waiting: list[list[int]] = []
        MadeIn.made.append(self)

    def get_ports(self) -> list[str]:
        """The names now."""
        return list(self.names)

    def open_port(self, number: int, _name: str) -> None:
        """Join."""
        if self.refuses:
            raise OSError("busy")
        self.calls.append(self.names[number])

    def get_message(self) -> tuple[list[int], float] | None:
        """The next that waits."""
        return (self.waiting.pop(0), 0.0) if self.waiting else None


@pytest.fixture
def systems(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The MIDI systems of the machine, to be changed by the test."""
    MadeIn.made = []
    MadeIn.names = ["Pedal One 20:0", "Pedal Two 24:0"]
    MadeIn.refuses = False
    return made_systems(monkeypatch, MidiIn=MadeIn)


def test_messages_come_in_order_and_a_flood_in_portions(systems: list[int]) -> None:
    """What waits is read without waiting, at most so many at once."""
    port = MidiInPort("two", pytest.fail, ManualClock())
    port.open()
    port.open()
    (client,) = MadeIn.made
    assert client.calls == ["Pedal Two 24:0"]
    client.waiting = [[0xB0, 0x40, number % 128] for number in range(MOST_AT_ONCE + 1)]
    assert port.read()[:2] == [b"\xb0\x40\x00", b"\xb0\x40\x01"]
    assert port.read() == [bytes((0xB0, 0x40, MOST_AT_ONCE % 128))]
    assert port.read() == []
    port.close()
    port.close()
    assert client.calls[1:] == ["close", "delete"]
    with pytest.raises(ClosedError):
        port.read()


def test_what_we_play_is_no_pedal(systems: list[int]) -> None:
    """A port of a bridge, this one or a second, is neither offered nor joined, whatever part of its name is given."""
    MadeIn.names = ["reedwire:reedwire 128:0", "reedwire-01:reedwire", "Reed organ pedal 20:0"]
    with pytest.raises(OutputError, match=r"There is: 'Reed organ pedal 20:0'\. Or"):
        MidiInPort("reedwire", pytest.fail, ManualClock()).open()
    assert [port.name for port in list_midi_ports("in")] == ["Reed organ pedal 20:0"]
    port = MidiInPort("reed", pytest.fail, ManualClock())
    port.open()
    assert MadeIn.made[-1].calls == ["Reed organ pedal 20:0"]
    port.close()


def test_a_port_that_vanishes_is_told_once_and_taken_up_when_it_is_back(systems: list[int]) -> None:
    """Under a new number it is the same port; one that refuses is tried again with the next look."""
    told: list[str] = []
    watch = MadeWatch()
    port = MidiInPort("two", told.append, ManualClock(), watch=watch, background=lambda work: work())
    port.open()
    watch.sees(SYSTEM, gives=("Pedal One 20:0", "Pedal Two 24:0"))
    assert port.read() == []
    assert told == []
    for _ in range(3):
        watch.sees(SYSTEM, gives=("Pedal One 20:0",))
        assert port.read() == []
    assert len(told) == 1
    assert "'Pedal Two 24:0' of the pedal went away" in told[0]
    MadeIn.names, MadeIn.refuses = ["Pedal Two 28:0"], True
    watch.sees(SYSTEM, gives=("Pedal Two 28:0",))
    assert [port.read(), port.read()] == [[], []]
    assert len(told) == 1
    MadeIn.refuses = False
    watch.sees(SYSTEM, gives=("Pedal Two 28:0",))
    port.read()
    MadeIn.made[-1].waiting = [[0xB0, 0x40, 0x7F]]
    assert port.read() == [b"\xb0\x40\x7f"]
    assert told[1:] == ["The MIDI port 'Pedal Two 28:0' of the pedal is back."]
    assert MadeIn.made[-1].calls == ["Pedal Two 28:0"]
    port.close()
    assert watch.watched == []


def test_virtual_without_any_midi_system_is_an_error(systems: list[int]) -> None:
    """``virtual`` opens our own; without a system that has any it is an error that says what to do."""
    port = MidiInPort("virtual", pytest.fail, ManualClock())
    port.open()
    assert port.read() == []
    assert MadeIn.made[0].calls == [("virtual", "reedwire-in")]
    systems[:] = [DEAD, NO_VIRTUAL]
    with pytest.raises(OutputError, match="or none for the footswitch"):
        MidiInPort("virtual", pytest.fail, ManualClock()).open()


def test_a_name_that_fits_none_or_several_lists_them(systems: list[int]) -> None:
    """As for the ports that take MIDI."""
    with pytest.raises(OutputError, match="There is: 'Pedal One 20:0', 'Pedal Two 24:0'"):
        MidiInPort("organ", pytest.fail, ManualClock()).open()
    with pytest.raises(OutputError, match="Several MIDI ports fit 'pedal'"):
        MidiInPort("pedal", pytest.fail, ManualClock()).open()
