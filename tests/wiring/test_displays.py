"""A live performance with several displays, and one of them sounding a model."""

from __future__ import annotations

import time
from multiprocessing import active_children
from pathlib import Path

import pytest

from bridge.base.commands import Arm, Command, Quiet
from bridge.base.events import AudioBlock, NoteOff, NoteOn, PitchPoint, Status
from bridge.base.records import Record, decode
from follow.tones import RATE
from wiring.stand_ins import Ear, Tone, run


class Screen:
    """A display that remembers what it was shown, and asks for something once."""

    def __init__(self, wants: list[Command] | None = None) -> None:
        self.shown: list[Record] = []
        self.came_s: list[float] = []
        self._wants = wants or []

    def came(self, at_s: float) -> None:
        """Remember when."""
        self.came_s.append(at_s)

    def show(self, record: bytes) -> bool:
        """Remember what; each has been preceded by when its sound came."""
        assert self.came_s
        self.shown.append(decode(record))
        return len(self.shown) % 2 == 0

    def poll_commands(self) -> list[Command]:
        """What it wants, once."""
        wants, self._wants = self._wants, []
        return wants


def test_all_displays_are_shown_the_same_and_all_are_obeyed() -> None:
    """Pitch, notes and status, also by one that loses some; each block of sound has its moment."""
    began_s = time.monotonic()
    first, second = Screen(), Screen([Arm(armed=False), Arm(armed=True)])
    ear = Ear()
    run(Tone(), ear, displays=[first, second])
    assert first.shown == second.shown
    assert {PitchPoint, NoteOn, NoteOff, Status} <= {type(record) for record in first.shown}
    assert len(first.came_s) == 750
    assert began_s <= first.came_s[0] <= first.came_s[-1] <= time.monotonic()


def test_while_a_model_sounds_nothing_is_heard() -> None:
    """The note that sounds ends, and one held over the pause begins anew after it and the room's tail."""

    class Model(Screen):
        def poll_commands(self) -> list[Command]:
            block = len(self.came_s)
            return [Quiet(sounding=block == 200)] if block in {200, 400} else []

    ear, model = Ear(), Model()
    run(Tone(), ear, displays=[model])
    assert ear.notes == ["NoteOn", "NoteOff", "NoteOn", "NoteOff"]
    ons = [event for event in ear.heard if isinstance(event, NoteOn)]
    offs = [event for event in ear.heard if isinstance(event, NoteOff)]
    assert 200 * 128 / 48000 <= offs[0].ready_s <= 200 * 128 / 48000 + 0.1
    assert ons[1].time_s >= 400 * 128 / 48000 + 0.2 - 0.01


def test_displays_know_as_long_as_it_plays_that_the_take_is_kept_no_more(tmp_path: Path) -> None:
    """Each status from then on says after how many seconds of the stream, and the report says it with the reason."""

    class Killing(Tone):
        def read(self, timeout_s: float) -> AudioBlock | None:
            if self._next == RATE:
                (writer,) = [child for child in active_children() if child.name == "reedwire-take"]
                writer.kill()
                writer.join()
            return super().read(timeout_s)

    screen = Screen()
    said: list[str] = []
    report = run(Killing(), Ear(), displays=[screen], take=tmp_path, notice=said.append)
    assert len(said) == 1
    assert report.stopped is not None
    # As the sound is handed on: in portions of 512 samples.
    assert report.stopped.at_s == pytest.approx(1.0, abs=512 / RATE)
    assert "signal 9" in report.stopped.why
    told = [record.take_stopped_s for record in screen.shown if isinstance(record, Status)]
    first = told.index(report.stopped.at_s)
    assert 3 <= first <= len(told) - 3
    assert set(told[:first]) == {None}
    assert set(told[first:]) == {report.stopped.at_s}
