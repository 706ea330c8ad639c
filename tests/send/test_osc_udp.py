"""OSC over real loopback sockets, out and in."""

from __future__ import annotations

import socket
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.base.commands import Arm, ChangeHarp, Command, Panic
from bridge.base.errors import ClosedError, OutputError
from bridge.send.osc_input import DEFAULT_ADDRESS, MOST_AT_ONCE, MOST_TOLD, OscInput, command_of, mistake_in
from bridge.send.osc_output import OscOutput
from bridge.send.pitch import SentPitch
from bridge.send.settings import OscSettings
from send import osc_reader
from send.made_events import note_off, note_on, point


@pytest.fixture
def ear() -> Iterator[socket.socket]:
    """A receiver on loopback."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as made:
        made.bind(("127.0.0.1", 0))
        made.settimeout(5.0)
        yield made


def output_to(ear: socket.socket) -> OscOutput:
    """An output that sends to the receiver."""
    return OscOutput(OscSettings(to=f"127.0.0.1:{ear.getsockname()[1]}"), SentPitch(), "1.0")


def hear(ear: socket.socket, count: int) -> list[str]:
    """The addresses of the next datagrams."""
    return [osc_reader.read(ear.recv(4096))[0].removeprefix("/reedwire/") for _ in range(count)]


def test_datagrams_arrive_in_order_and_closing_ends_the_note(ear: socket.socket) -> None:
    """Hello, on, inflect, and at closing one off."""
    osc = output_to(ear)
    osc.open()
    osc.open()
    osc.send(note_on(0.0))
    osc.close()
    osc.close()
    assert hear(ear, 4) == ["hello", "on", "inflect", "off"]
    ear.settimeout(0.0)
    with pytest.raises(BlockingIOError):
        ear.recv(4096)


def test_panic_ends_the_note_once(ear: socket.socket) -> None:
    """The off that comes later finds nothing."""
    osc = output_to(ear)
    osc.open()
    osc.send(note_on(0.0))
    osc.panic()
    osc.send(note_off(0.1))
    osc.send(point(0.2))
    assert hear(ear, 5) == ["hello", "on", "inflect", "off", "pitch"]
    osc.close()


def test_a_closed_output_raises(ear: socket.socket) -> None:
    """Before opening and after closing, sending and panic are faults."""
    osc = output_to(ear)
    for _ in range(2):
        with pytest.raises(ClosedError):
            osc.send(note_on(0.0))
        with pytest.raises(ClosedError):
            osc.panic()
        osc.open()
        osc.close()


def test_a_receiver_that_is_not_there_does_not_matter() -> None:
    """Nobody listens, nothing is raised, since UDP cannot know."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as made:
        made.bind(("127.0.0.1", 0))
        port = made.getsockname()[1]
    osc = OscOutput(OscSettings(to=f"127.0.0.1:{port}"), SentPitch(), "1.0")
    osc.open()
    for step in range(20):
        osc.send(point(step * 0.01))
    osc.close()


def test_a_host_that_does_not_exist_is_an_error_for_the_user() -> None:
    """The name is looked up at opening (RFC 6761 keeps .invalid from ever existing)."""
    osc = OscOutput(OscSettings(to="nowhere.invalid:9000"), SentPitch(), "1.0")
    with pytest.raises(OutputError, match=r"nowhere\.invalid:9000"):
        osc.open()
    with pytest.raises(ClosedError):
        osc.send(point(0.0))


def free_port() -> int:
    """A port that was free a moment ago."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as made:
        made.bind(("127.0.0.1", 0))
        return int(made.getsockname()[1])


def osc_input(told: list[str]) -> OscInput:
    """An open input on loopback."""
    made = OscInput(OscSettings(listen=f"127.0.0.1:{free_port()}"), told.append)
    made.open()
    return made


def say(commands: OscInput, *datagrams: bytes, host: str = "127.0.0.1") -> None:
    """Send to the input; on loopback a datagram has arrived when sendto returns."""
    assert commands.address is not None
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as mouth:
        mouth.bind((host, 0))
        for datagram in datagrams:
            mouth.sendto(datagram, commands.address)


# Written by hand from OpenSound Control Specification 1.0: /reedwire/do/arm is 16 characters (four zeros),
# /reedwire/do/harp 17 (three), /reedwire/do/panic 18 (two).
COMMANDS: list[tuple[str, Command]] = [
    ("2f726565 64776972 652f646f 2f61726d 00000000 2c690000 00000001", Arm(armed=True)),
    ("2f726565 64776972 652f646f 2f61726d 00000000 2c690000 00000000", Arm(armed=False)),
    ("2f726565 64776972 652f646f 2f61726d 00000000 2c660000 3f800000", Arm(armed=True)),
    ("2f726565 64776972 652f646f 2f686172 70000000 2c730000 42620000", ChangeHarp("Bb")),
    ("2f726565 64776972 652f646f 2f686172 70000000 2c690000 00000002", ChangeHarp("2")),
    ("2f726565 64776972 652f646f 2f686172 70000000 2c660000 40400000", ChangeHarp("3")),
    ("2f726565 64776972 652f646f 2f70616e 69630000 2c000000", Panic()),
    ("2f726565 64776972 652f646f 2f70616e 69630000 2c690000 00000001", Panic()),
    ("2f726565 64776972 652f646f 2f70616e 69630000 2c660000 3f800000", Panic()),
]

ARM_WITH_A_WORD = "2f726565 64776972 652f646f 2f61726d 00000000 2c730000 6f6e0000"
HARP_AT_PLACE_0 = "2f726565 64776972 652f646f 2f686172 70000000 2c690000 00000000"  # a button let go
# A button let go, of a control that sends ints, and of one that sends floats.
PANIC_LET_GO = (
    "2f726565 64776972 652f646f 2f70616e 69630000 2c690000 00000000",
    "2f726565 64776972 652f646f 2f70616e 69630000 2c660000 00000000",
)
_ARM = "It takes a number: 1 to listen, 0 to stop listening."
_HARP = "It takes the name of a harp, such as Bb, or its place in the set, counted from 1."
_KNOWN = "is no command. There are /reedwire/do/arm, /reedwire/do/harp, /reedwire/do/panic."
# By hand likewise, and what is said of them.
MISTAKES: dict[str, str] = {
    "2f726565 64776972 652f646f 2f61726d 00000000 2c000000": f"/reedwire/do/arm came without a value. {_ARM}",
    # Old senders leave the type tags out (OSC 1.0 asks receivers to bear with that).
    "2f726565 64776972 652f646f 2f61726d 00000000": f"/reedwire/do/arm came without a value. {_ARM}",
    "2f726565 64776972 652f646f 2f61726d 00000000 2c690000": (
        f"/reedwire/do/arm came with a value that is not whole. {_ARM}"
    ),
    "2f726565 64776972 652f646f 2f61726d 00000000 2c690000 0000": (
        f"/reedwire/do/arm came with a value that is not whole. {_ARM}"
    ),
    ARM_WITH_A_WORD: f"/reedwire/do/arm came with the text 'on'. {_ARM}",
    # T is true in OSC 1.1.
    "2f726565 64776972 652f646f 2f61726d 00000000 2c540000": (
        f"/reedwire/do/arm came with values of the types ',T'. {_ARM}"
    ),
    "2f726565 64776972 652f646f 2f686172 70000000 2c730000 00000000": (
        f"/reedwire/do/harp came with the text ''. {_HARP}"
    ),
    # No UTF-8.
    "2f726565 64776972 652f646f 2f686172 70000000 2c730000 ff000000": (
        f"/reedwire/do/harp came with a value that is not whole. {_HARP}"
    ),
    HARP_AT_PLACE_0: f"/reedwire/do/harp came with the number 0. {_HARP}",
    "2f726565 64776972 652f646f 2f686172 70000000 2c660000 7f800000": (
        f"/reedwire/do/harp came with the number inf. {_HARP}"
    ),
    "2f726565 64776972 652f646f 2f686172 70000000 2c660000 7fc00000": (
        f"/reedwire/do/harp came with the number nan. {_HARP}"
    ),
    "2f726565 64776972 652f646f 2f70616e 69630000 2c730000 6f6e0000": (
        "/reedwire/do/panic came with the text 'on'. It takes no value, or a number other than 0."
    ),
    # What we send ourselves: /reedwire/off.
    "2f726565 64776972 652f6f66 66000000 2c696900 000005dc 00000007": f"'/reedwire/off' {_KNOWN}",
    # /reedwire/do/armed: more than the name of a command.
    "2f726565 64776972 652f646f 2f61726d 65640000 2c690000 00000001": f"'/reedwire/do/armed' {_KNOWN}",
    "2362756e 646c6500 00000000 00000001": "a bundle came. Send each command as a plain message.",
}


@pytest.mark.parametrize(("dump", "command"), COMMANDS)
def test_commands_are_understood(dump: str, command: Command) -> None:
    """The hand-written datagram is the command."""
    assert command_of(bytes.fromhex(dump)) == command


@pytest.mark.parametrize("dump", ["", *PANIC_LET_GO, *MISTAKES])
def test_what_is_no_command_is_none(dump: str) -> None:
    """No malformed or foreign datagram is taken for a command, and none raises."""
    assert command_of(bytes.fromhex(dump)) is None


@pytest.mark.parametrize(("dump", "words"), MISTAKES.items())
def test_a_mistake_is_told_in_words(dump: str, words: str) -> None:
    """What came, and what is expected instead."""
    assert mistake_in(bytes.fromhex(dump)) == words


@given(
    st.sampled_from([bytes.fromhex(dump)[:24] for dump, _ in COMMANDS] + [b""]),
    st.binary(max_size=40),
)
def test_no_datagram_can_do_harm(beginning: bytes, rest: bytes) -> None:
    """Any bytes are a command, or a mistake that any terminal can show in a line."""
    command = command_of(beginning + rest)
    assert command is None or isinstance(command, Arm | ChangeHarp | Panic)
    if command is None:
        assert mistake_in(beginning + rest).isprintable()


def test_commands_come_in_order_and_each_mistake_is_told_once() -> None:
    """Bad datagrams among good ones cost nothing; each kind gives one notice that names the sender.

    A button for panic that is let go is no mistake.
    """
    told: list[str] = []
    commands = osc_input(told)
    arm, harp = bytes.fromhex(ARM_WITH_A_WORD), bytes.fromhex(HARP_AT_PLACE_0)
    say(commands, b"nonsense", arm, *(bytes.fromhex(dump) for dump, _ in COMMANDS), harp, arm, b"", b"more")
    assert commands.poll() == [command for _, command in COMMANDS]
    say(commands, arm, harp, b"nonsense", *map(bytes.fromhex, PANIC_LET_GO))
    assert commands.poll() == []
    assert told == [
        f"OSC from 127.0.0.1 was passed over: {words}"
        for words in (mistake_in(b"nonsense"), MISTAKES[ARM_WITH_A_WORD], MISTAKES[HARP_AT_PLACE_0])
    ]
    commands.close()
    commands.close()


def test_each_sender_is_told_apart_and_a_flood_of_them_is_not() -> None:
    """Another computer's mistake is told too; after so many lines the last says that no more will come.

    Every address of 127.0.0.0/8 is this machine (RFC 1122).
    """
    told: list[str] = []
    commands = osc_input(told)
    for number in range(2, MOST_TOLD + 6):
        say(commands, b"nonsense", host=f"127.0.0.{number}")
        assert commands.poll() == []
    assert [line.split()[2] for line in told] == [f"127.0.0.{number}" for number in range(2, MOST_TOLD + 2)]
    assert ["without a word" in line for line in told] == [False] * (MOST_TOLD - 1) + [True]
    commands.close()


def test_a_flood_is_taken_in_portions() -> None:
    """One poll takes no more than its share, the next goes on."""
    commands = osc_input([])
    say(commands, *[bytes.fromhex(COMMANDS[4][0])] * (MOST_AT_ONCE + 3))
    assert len(commands.poll()) == MOST_AT_ONCE
    assert len(commands.poll()) == 3
    commands.close()


def test_an_address_that_is_taken_is_an_error_but_for_auto(ear: socket.socket) -> None:
    """Who named the address is told; auto goes on without commands and says so in one line."""
    told: list[str] = []
    taken = f"127.0.0.1:{ear.getsockname()[1]}"
    with pytest.raises(OutputError, match="Choose another address, or none"):
        OscInput(OscSettings(listen=taken), told.append).open()
    first, second = OscInput(OscSettings(), told.append), OscInput(OscSettings(), told.append)
    first.open()
    second.open()
    assert len([line for line in told if "Going on without them" in line]) >= 1
    assert second.address is None
    assert second.poll() == []
    first.close()
    second.close()


def test_auto_listens_on_loopback_only() -> None:
    """The default address is this machine's own (RFC 1122: 127.0.0.0/8 is loopback)."""
    assert DEFAULT_ADDRESS.host == "127.0.0.1"


def test_an_input_that_is_off_hears_nothing_and_a_closed_one_raises() -> None:
    """None opens no socket; polling before opening or after closing is a fault."""
    commands = OscInput(OscSettings(listen="none"), lambda _line: None)
    with pytest.raises(ClosedError):
        commands.poll()
    commands.open()
    commands.open()
    assert commands.address is None
    assert commands.poll() == []
    commands.close()
    with pytest.raises(ClosedError):
        commands.poll()
