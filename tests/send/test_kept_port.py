"""A MIDI port out that goes away and comes back, with a stand-in for the MIDI systems and for who looks at them."""

from __future__ import annotations

import pytest

from bridge.base.errors import OutputError
from bridge.send import coming_port, kept_port
from bridge.send.kept_port import PortNews
from bridge.send.midi_port import MidiPort
from bridge.send.midi_system import JoinedPort
from send.made_midi import DEAD, GOOD, MadeClient, made_systems
from send.made_watch import Later, MadeWatch

SYSTEM = f"system {GOOD}"
OWN = ("reedwire:reedwire",)
SAME, GONE, BACK = PortNews.SAME, PortNews.GONE, PortNews.BACK


class MadeOut(MadeClient):
    """One client of a made-up MIDI system, whose ports come and go."""

    names: list[str]
    made: list[MadeOut]

    def __init__(self, api: int, name: str) -> None:
        super().__init__(api, name)
        MadeOut.made.append(self)

    def get_ports(self) -> list[str]:
        """The names now."""
        return list(self.names)

    def get_current_api(self) -> int:
        """Its system."""
        return self.api

    def open_port(self, number: int, _name: str) -> None:
        """Join."""
        self.calls.append(self.names[number])

    def send_message(self, data: bytes) -> None:
        """Take one message."""
        self.calls.append(data)


class Room:
    """A port, who watches it, what is done elsewhere, what was told, and the ports that were left as they are."""

    def __init__(self, wanted: str) -> None:
        self.watch, self.later = MadeWatch(), Later()
        self.told: list[str] = []
        self.port = MidiPort(wanted, self.told.append, watch=self.watch, background=self.later)
        self.now_s = 0.0

    def attend(self) -> PortNews:
        """Half a second later."""
        self.now_s += 0.5
        return self.port.attend(self.now_s)


@pytest.fixture
def systems(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The MIDI systems of the machine, to be changed by the test."""
    MadeOut.made = []
    MadeOut.names = ["Synth 20:0", "Piano 24:0"]
    return made_systems(monkeypatch, MidiOut=MadeOut)


@pytest.fixture
def abandoned(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """The clients that were left as they are instead of being closed."""
    left: list[object] = []

    def leave(port: JoinedPort) -> None:
        left.append(port.client)

    for file in (kept_port, coming_port):
        monkeypatch.setattr(file, "abandon", leave)
    return left


def test_a_named_port_is_told_to_be_gone_once_and_opened_again_elsewhere(
    systems: list[int], abandoned: list[object]
) -> None:
    """The old client is closed, since its system lives, and not by the engine."""
    room = Room("synth")
    room.port.open()
    (first,) = MadeOut.made
    room.watch.sees(SYSTEM, takes=("Synth 20:0", "Piano 24:0"), gives=OWN)
    assert [room.attend(), room.attend()] == [SAME, SAME]
    room.watch.sees(SYSTEM, takes=("Piano 24:0",), gives=OWN)
    assert [room.attend(), room.attend()] == [GONE, SAME]
    assert first.calls == ["Synth 20:0"]
    MadeOut.names = ["Piano 24:0", "Synth 28:0"]
    room.watch.sees(SYSTEM, takes=("Piano 24:0", "Synth 28:0"), gives=OWN)
    assert [room.attend(), room.attend()] == [SAME, SAME]
    assert first.calls == ["Synth 20:0"]
    room.later.do()
    assert [room.attend(), room.attend()] == [BACK, SAME]
    room.port.send(b"\x90\x3c\x60")
    assert MadeOut.made[-1].calls == ["Synth 28:0", b"\x90\x3c\x60"]
    assert first.calls == ["Synth 20:0", "close", "delete"]
    assert room.told == [
        "The MIDI port 'Synth 20:0' is gone. Playing goes on; it is taken up again when it is back.",
        "The MIDI port 'Synth 28:0' is back.",
    ]
    room.port.close()
    assert abandoned == []
    assert room.watch.watched == []


def test_our_own_port_is_made_again_when_the_midi_system_is_back(systems: list[int], abandoned: list[object]) -> None:
    """A client of a system that died is never closed: that would hang. The new port has the same name."""
    room = Room("auto")
    room.port.open()
    room.watch.sees(SYSTEM, gives=OWN)
    assert room.attend() == SAME
    room.watch.sees_nothing()
    assert room.attend() == SAME
    room.watch.sees_nothing()
    assert [room.attend(), room.attend()] == [GONE, SAME]
    assert room.later.waiting == []
    room.watch.sees(SYSTEM)
    assert room.attend() == SAME
    assert abandoned == MadeOut.made[:1]
    room.later.do()
    assert room.attend() == BACK
    assert (
        room.told[-1]
        == "The MIDI port 'reedwire' of our own is back. If nothing sounds, connect it to your synth again."
    )
    assert [client.calls for client in MadeOut.made] == [[("virtual", "reedwire")]] * 2
    room.watch.sees(SYSTEM, gives=OWN)
    assert room.attend() == SAME
    assert len(room.told) == 2


def test_a_system_that_was_restarted_between_two_looks_is_noticed(systems: list[int], abandoned: list[object]) -> None:
    """It answers each time and the synth is there again, but our end of the port is not."""
    room = Room("synth")
    room.port.open()
    room.watch.sees(SYSTEM, takes=("Synth 20:0",), gives=OWN)
    room.attend()
    room.watch.sees(SYSTEM, takes=("Synth 20:0",))
    assert room.attend() == GONE
    room.watch.sees(SYSTEM, takes=("Synth 20:0",))
    room.attend()
    room.later.do()
    assert room.attend() == BACK
    assert abandoned == MadeOut.made[:1]


def test_our_own_port_in_a_system_that_was_held_up_is_used_on(systems: list[int], abandoned: list[object]) -> None:
    """It is still there, with its connections."""
    room = Room("virtual")
    room.port.open()
    room.watch.sees(SYSTEM, gives=OWN)
    room.attend()
    room.watch.sees_nothing()
    assert room.attend() == SAME
    room.watch.sees_nothing()
    assert room.attend() == GONE
    room.watch.sees(SYSTEM, gives=OWN)
    assert room.attend() == BACK
    assert room.told[-1] == "The MIDI port 'reedwire' of our own is back."
    room.port.send(b"\x90\x3c\x60")
    assert MadeOut.made[0].calls == [("virtual", "reedwire"), b"\x90\x3c\x60"]
    assert len(MadeOut.made) == 1


def test_a_port_that_vanishes_again_while_it_is_opened_is_tried_again(
    systems: list[int], abandoned: list[object]
) -> None:
    """With the next look; and so is one whose opening hangs, of which nothing is used should it end after all."""
    room = Room("piano")
    room.port.open()
    room.watch.sees(SYSTEM)
    assert room.attend() == GONE
    MadeOut.names = []
    room.watch.sees(SYSTEM, takes=("Piano 24:0",))
    room.attend()
    room.later.do()
    assert [room.attend(), room.attend()] == [SAME, SAME]
    MadeOut.names = ["Piano 24:0"]
    room.watch.sees(SYSTEM, takes=("Piano 24:0",))
    room.attend()
    (hung,), room.later.waiting = room.later.waiting, []
    room.now_s += 10.0
    assert room.attend() == SAME
    room.watch.sees(SYSTEM, takes=("Piano 24:0",))
    room.attend()
    room.later.do()
    assert room.attend() == BACK
    used = MadeOut.made[-1]
    hung()
    assert abandoned[-1] is MadeOut.made[-1]
    room.port.send(b"\x90\x3c\x60")
    assert used.calls == ["Piano 24:0", b"\x90\x3c\x60"]


def test_one_look_without_an_answer_is_not_believed(systems: list[int], abandoned: list[object]) -> None:
    """A busy system may refuse one client; a note is not ended for that."""
    room = Room("piano")
    room.port.open()
    for _ in range(3):
        room.watch.sees(SYSTEM, takes=("Piano 24:0",), gives=OWN)
        assert room.attend() == SAME
        room.watch.sees_nothing()
        assert room.attend() == SAME
    room.watch.sees_nothing()
    assert room.attend() == GONE


def test_a_port_that_only_seems_to_be_gone_still_hears_what_silences_it(
    systems: list[int], abandoned: list[object]
) -> None:
    """Only who looks hangs: what is sent goes through all the same."""
    room = Room("piano")
    room.port.open()
    room.watch.sees(SYSTEM, takes=("Piano 24:0",), gives=OWN)
    room.attend()
    room.watch.sees_nothing()
    assert room.attend() == SAME
    room.watch.sees_nothing()
    assert room.attend() == GONE
    room.port.send(b"\x80\x3c\x40")
    assert MadeOut.made[-1].calls == ["Piano 24:0", b"\x80\x3c\x40"]


def test_no_more_is_sent_than_the_ring_holds_before_the_system_is_seen_again(
    systems: list[int], abandoned: list[object]
) -> None:
    """Who writes into the full ring of a JACK that has died waits for ever: 16 KiB, four bytes more a message."""
    room = Room("piano")
    room.port.open()
    for _ in range(3):
        room.watch.sees(SYSTEM, takes=("Piano 24:0",), gives=OWN)
        room.attend()
        for _ in range(1000):
            room.port.send(b"\xe0\x00\x40")
    taken = len(MadeOut.made[-1].calls)
    while len(MadeOut.made[-1].calls) - taken < 16384 / 7:
        try:
            room.port.send(b"\xe0\x00\x40")
        except OutputError:
            break
    else:
        pytest.fail("the ring is full, and whoever sends now waits for ever")


def test_closing_leaves_a_port_whose_system_does_not_answer(systems: list[int], abandoned: list[object]) -> None:
    """Be it known to be gone or not noticed yet: closing never hangs."""
    unnoticed, gone = Room("piano"), Room("piano")
    for room in (unnoticed, gone):
        room.port.open()
        room.watch.sees(SYSTEM, takes=("Piano 24:0",), gives=OWN)
        room.attend()
    gone.watch.sees_nothing()
    assert gone.attend() == SAME
    gone.watch.sees_nothing()
    assert gone.attend() == GONE
    unnoticed.watch.answers = False
    for room in (unnoticed, gone):
        room.port.close()
        room.port.close()
        assert room.watch.watched == []
    assert abandoned == MadeOut.made
    assert all(client.calls == ["Piano 24:0"] for client in MadeOut.made)


def test_without_a_midi_system_there_is_nothing_to_watch(systems: list[int]) -> None:
    """Auto is silent then, and a name is an error."""
    systems[:] = [DEAD]
    room = Room("auto")
    room.port.open()
    assert room.attend() == SAME
    assert room.watch.watched == []
    room.port.close()
    with pytest.raises(OutputError, match="no port at all"):
        Room("piano").port.open()


def test_a_midi_system_that_breaks_while_a_port_is_opened_is_told_plainly(
    systems: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its server may die at that very moment."""

    def broken(_client: object) -> list[str]:
        raise OSError("server gone")

    monkeypatch.setattr(MadeOut, "get_ports", broken)
    with pytest.raises(OutputError, match=r"'piano' could not be opened \(server gone\)\. Check"):
        Room("piano").port.open()
