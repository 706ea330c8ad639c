"""Finding and opening MIDI ports, with a stand-in for the MIDI systems and on a real JACK server."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from bridge.base.errors import ClosedError, OutputError
from bridge.send.midi_port import MidiPort
from bridge.send.midi_system import MidiPortInfo, list_midi_ports, matching
from jack_server import jack_server
from parts import running
from send.made_midi import DEAD, GOOD, NO_VIRTUAL, MadeClient, made_systems

NAMES = ["Synth One:in", "Synth Two:in", "Piano"]


class StandIn(MadeClient):
    """One client of a made-up MIDI system."""

    made: list[StandIn]
    shifts = False

    def __init__(self, api: int, name: str) -> None:
        super().__init__(api, name)
        self.names = list(NAMES) if api == GOOD else []
        StandIn.made.append(self)

    def get_ports(self) -> list[str]:
        """The names now."""
        now = list(self.names)
        if self.shifts:
            self.names = ["Just plugged in", *self.names]
        return now

    def get_current_api(self) -> int:
        """Its system."""
        return self.api

    def open_port(self, number: int, _name: str) -> None:
        """Open by number."""
        if number >= len(self.names):
            raise ValueError("no such number")
        self.calls.append(("open", number))

    def send_message(self, data: bytes) -> None:
        """Take one message."""
        self.calls.append(data)


@pytest.fixture
def systems(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The MIDI systems of the machine, to be changed by the test."""
    StandIn.made = []
    StandIn.shifts = False
    return made_systems(monkeypatch, MidiOut=StandIn)


def refuse(text: str) -> None:
    """A notice that must not come."""
    pytest.fail(text)


def test_auto_opens_a_virtual_port_of_our_name_on_the_first_system_that_works(systems: list[int]) -> None:
    """A dead system, and one without virtual ports, are passed over."""
    systems[:] = [9, DEAD, NO_VIRTUAL, GOOD]
    port = MidiPort("auto", refuse)
    port.open()
    port.open()
    port.send(b"\x90\x3c\x60")
    port.close()
    port.close()
    passed_over, used = StandIn.made
    assert passed_over.calls == ["delete"]
    assert used.calls == [("virtual", "reedwire"), b"\x90\x3c\x60", "close", "delete"]


def test_auto_without_any_midi_system_says_so_once_and_goes_on(systems: list[int]) -> None:
    """Sending then does nothing, and closing works."""
    systems[:] = [DEAD]
    told: list[str] = []
    port = MidiPort("auto", told.append)
    port.open()
    port.send(b"\x90\x3c\x60")
    port.close()
    (line,) = told
    assert "without MIDI" in line
    assert "\n" not in line


def test_virtual_without_any_midi_system_is_an_error(systems: list[int]) -> None:
    """Who asked for a port by word gets an error that says what to do."""
    systems[:] = [DEAD]
    with pytest.raises(OutputError, match="choose another port or none"):
        MidiPort("virtual", refuse).open()


def test_a_name_opens_the_one_port_that_fits(systems: list[int]) -> None:
    """Part of the name is enough, small or capital."""
    port = MidiPort("two", refuse)
    port.open()
    assert StandIn.made[0].calls == [("open", 1)]
    port.close()


def test_the_number_is_looked_up_again_right_before_opening(systems: list[int]) -> None:
    """A device plugged in meanwhile shifts the numbers; the name still leads to its port."""
    StandIn.shifts = True
    port = MidiPort("Piano", refuse)
    port.open()
    assert StandIn.made[0].calls == [("open", 3)]
    port.close()


def test_a_name_that_fits_several_lists_them(systems: list[int]) -> None:
    """The candidates are in the message, the others are not."""
    with pytest.raises(OutputError, match="'Synth One:in', 'Synth Two:in'") as caught:
        MidiPort("synth", refuse).open()
    assert "Piano" not in str(caught.value)


def test_a_name_that_fits_nothing_lists_what_there_is(systems: list[int]) -> None:
    """With and without ports the message says what can be given instead."""
    with pytest.raises(OutputError, match="There is: 'Synth One:in', 'Synth Two:in', 'Piano'"):
        MidiPort("organ", refuse).open()
    systems[:] = [DEAD]
    with pytest.raises(OutputError, match="no port at all"):
        MidiPort("organ", refuse).open()


def test_a_port_that_vanishes_while_it_is_opened_is_an_error_for_the_user(
    systems: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No traceback of the library comes out."""

    def vanish(_self: StandIn, _number: int, _name: str) -> None:
        raise OSError("gone")

    monkeypatch.setattr(StandIn, "open_port", vanish)
    with pytest.raises(OutputError, match="Check the device"):
        MidiPort("Piano", refuse).open()


def test_all_ports_of_all_working_systems_are_listed(systems: list[int]) -> None:
    """Systems that do not work add nothing."""
    assert list_midi_ports() == [MidiPortInfo(f"system {GOOD}", name) for name in NAMES]
    systems[:] = [DEAD]
    assert list_midi_ports() == []


def test_a_closed_port_raises(systems: list[int]) -> None:
    """Before opening and after closing."""
    port = MidiPort("auto", refuse)
    for _ in range(2):
        with pytest.raises(ClosedError):
            port.send(b"\x90\x3c\x60")
        port.open()
        port.close()


@pytest.mark.parametrize(
    ("wanted", "found"),
    [("Out", ["Out"]), ("out", ["Out"]), ("OUT 2", ["Out 2"]), ("o", ["Out", "Out 2"]), ("x", [])],
)
def test_an_exact_name_wins_over_one_that_contains_it(wanted: str, found: list[str]) -> None:
    """``Out`` means ``Out`` although ``Out 2`` contains it."""
    assert matching(wanted, ["Out", "Out 2"]) == found


def test_looking_for_midi_systems_writes_nothing_of_its_own() -> None:
    """The C libraries' complaints about missing servers stay out of the terminal."""
    code = "from bridge.send.midi_system import list_midi_ports; list_midi_ports()"
    env = {**os.environ, "JACK_DEFAULT_SERVER": "no-such-server", "JACK_NO_START_SERVER": "1"}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert (done.stdout, done.stderr) == ("", "")


#: A JACK client in a process of its own, so that no other Python code holds it up; prints what it heard at the end.
LISTENER = """
import json, sys
import jack

heard = []
ear = jack.Client("ear")
port = ear.midi_inports.register("in")

@ear.set_process_callback
def listen(_frames):
    for _, data in port.incoming_midi_events():
        heard.append(bytes(data).hex(" ").upper())

with ear:
    print("ready", flush=True)
    sys.stdin.read()
print(json.dumps(heard))
"""

#: Plays one note into the listener, from a virtual or a named port.
PLAYER = """
import json, sys, time
import jack
from bridge.send.midi_output import MidiOutput
from bridge.send.midi_port import MidiPort
from bridge.send.midi_system import JACK_SETTLES_S, list_midi_ports
from bridge.send.pitch import SentPitch
from bridge.send.midi_settings import MidiSettings
from send.made_events import note_on

def fail(text):
    raise AssertionError(text)

wanted = sys.argv[1]
print(json.dumps([(info.system, info.name) for info in list_midi_ports()]))
midi = MidiOutput(MidiSettings(port=wanted), SentPitch(), MidiPort(wanted, fail))
midi.open()
if wanted == "virtual":
    jack.Client("hand").connect("reedwire:reedwire", "ear:in")
    time.sleep(JACK_SETTLES_S)
midi.send(note_on(0.0, bend_cents=-50.0, breath=1.0, bright=0.0, blueness=1.0, lean=0.0))
midi.close()
"""

OPENING = ["B0 65 00", "B0 64 00", "B0 06 02", "B0 26 00"]
NOTE = ["E0 00 30", "B0 0B 7F", "B0 4A 00", "B0 14 7F", "B0 15 40", "90 47 60"]
END = ["80 47 40", "B0 7B 00", "B0 78 00", "E0 00 40", "B0 79 00"]


@pytest.mark.parametrize(("wanted", "expected"), [("virtual", NOTE + END), ("ear:in", OPENING + NOTE + END)])
def test_a_real_jack_server_carries_a_note(wanted: str, expected: list[str]) -> None:
    """A JACK client gets every byte in order, the bend before the Note On, the Note Off sent just before closing.

    The virtual port is connected after it was opened: the synth has missed the opening.
    """
    with jack_server() as env:
        env["PYTHONPATH"] = os.pathsep.join(sys.path)
        listening = [sys.executable, "-c", LISTENER]
        with running(listening, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as listener:
            assert listener.stdout is not None
            assert listener.stdout.readline() == b"ready\n"
            playing = [sys.executable, "-c", PLAYER, wanted]
            player = subprocess.run(playing, env=env, capture_output=True, text=True, check=False, timeout=60)
            heard, _ = listener.communicate(timeout=30)
    assert player.returncode == 0, player.stderr
    assert json.loads(player.stdout) == [["Jack", "ear:in"]]
    assert json.loads(heard) == expected
