"""The room part of ``reedwire check``: again by itself after a creak, and q on to the playing part."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import pytest
import typer

from bridge.base.commands import Command, Stop
from bridge.cli.asked_to_stop import AskedToStop
from bridge.cli.check import hear_room
from bridge.cli.keys import Keys
from bridge.follow.room_noise import LearnedRoom
from bridge.wiring.sound_check import Checked, SoundCheck
from bridge.wiring.steady import StopRequest
from cli.checked_pages import ROOM, checked

CREAK = LearnedRoom(5.0, -62.0, -40.0, 0.0, 0.1, -35.0)
#: Seconds of sound between two looks at the keys.
STEP_S = 0.5


class Pressed(Keys):
    """Keys of which q is pressed at these looks."""

    def __init__(self, at: Sequence[int] = ()) -> None:
        super().__init__(None)
        self._at, self._looks = at, 0

    def commands(self) -> list[Command]:
        """What was pressed since the last look."""
        self._looks += 1
        return [Stop()] if self._looks in self._at else []


@dataclass
class Rooms(SoundCheck):
    """Learns one room after the other from sound that comes in steps; ``lost`` samples in each."""

    rooms: list[LearnedRoom]
    lost: int = 0
    checked: Checked = field(default_factory=checked)
    room_s: float = 0.0
    heard: list[float] = field(default_factory=list)

    def hear_room(self, seconds: float, stopped: Callable[[], bool] | None = None) -> LearnedRoom:
        """Hear the next."""
        assert stopped is not None
        self.room_s = 0.0
        while self.room_s < seconds and not stopped():
            self.room_s += STEP_S
        self.heard.append(self.room_s)
        self.checked.lost += self.lost
        return self.rooms.pop(0)


def test_a_creak_is_told_and_the_room_heard_again(capsys: pytest.CaptureFixture[str]) -> None:
    """How long and how loud it was; the second time all is quiet."""
    rooms = Rooms([CREAK, ROOM])
    assert hear_room(rooms, 5.0, AskedToStop(Pressed(), StopRequest())) == (ROOM, False)
    assert capsys.readouterr().err == (
        "The room was not quiet: something sounded for 0.1 s, up to -35 dBFS. Once more: play nothing for 5 seconds.\n"
    )


def test_it_is_heard_three_times_at_most(capsys: pytest.CaptureFixture[str]) -> None:
    """Then the command says why it ends; a machine that lost sound is not blamed on the room."""
    rooms = Rooms([CREAK, CREAK, CREAK, ROOM], lost=64)
    assert hear_room(rooms, 5.0, AskedToStop(Pressed(), StopRequest())) == (CREAK, True)
    assert rooms.rooms == [ROOM]
    err = capsys.readouterr().err
    assert err.count("Once more") == err.count("Sound was lost") == 2
    assert "not quiet" not in err


def test_q_goes_on_to_the_playing(capsys: pytest.CaptureFixture[str]) -> None:
    """After 3 s of 5 at once, and the playing is not ended by it."""
    stopped = AskedToStop(Pressed((7,)), StopRequest())
    rooms = Rooms([ROOM])
    assert hear_room(rooms, 5.0, stopped) == (ROOM, False)
    assert rooms.heard == [3.0]
    assert not stopped()
    assert capsys.readouterr() == ("", "")


def test_q_at_once_waits_for_enough_of_the_room(capsys: pytest.CaptureFixture[str]) -> None:
    """Two seconds are needed, which is told once; then it goes on."""
    rooms = Rooms([ROOM])
    hear_room(rooms, 5.0, AskedToStop(Pressed((1, 2)), StopRequest()))
    assert rooms.heard == [2.0]
    assert capsys.readouterr().out == "The room takes at least 2 seconds; then it goes on.\n"


def test_a_signal_ends_all(capsys: pytest.CaptureFixture[str]) -> None:
    """At once, with the status of shells, and nothing is learned."""
    request = StopRequest()
    request.wanted = True
    rooms = Rooms([CREAK])
    with pytest.raises(typer.Exit) as caught:
        hear_room(rooms, 5.0, AskedToStop(Pressed(), request))
    assert caught.value.exit_code == 130
    assert rooms.heard == [0.0]
    assert capsys.readouterr().err == "Stopped before the room was learned; nothing was written.\n"
