"""``reedwire replay`` into a receiver of OSC on the loopback, against the tables that it was given.

Source: the tables themselves (written by the tests), OpenSound Control 1.0 as the tests read it. Nothing is asserted of
the wall clock; times are those that the messages tell.
"""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

from bridge.takes.edited import EditedNote
from main_job.command import PATIENCE_S, REEDWIRE, reedwire
from main_job.live import wait_until
from main_job.osc_ear import Message, OscEar
from parts import running
from wiring.made_takes import PHRASE, make_take

#: OSC tells milliseconds, and a bend at most one step of the curve (4 ms) before it is due.
STEP_S = 0.005
#: The steepest way in the phrase, cents a second: 83 in a quarter of a second.
STEEPEST = 340.0


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The phrase as a take."""
    return make_take(tmp_path / "phrase").folder.path


def to_the_end(take: Path, *words: str) -> list[Message]:
    """All that comes of a replay that ends by itself."""
    with OscEar() as ear:
        said = reedwire("replay", take, "--midi", "none", "--osc", f"127.0.0.1:{ear.port}", *words)
        assert said.status == 0, said.err
        assert said.accidents == []
        wait_until("the last off has come", lambda: len(of(ear.messages, "off")) == len(of(ear.messages, "on")))
        return ear.messages


def of(messages: list[Message], kind: str) -> list[Message]:
    """Those of one address."""
    return [message for message in messages if message.address == f"/reedwire/{kind}"]


def bend(note: EditedNote, at_s: float) -> float:
    """What the table says, by numpy's own interpolation."""
    return float(np.interp(at_s, [point.at_s for point in note.points], [point.bend_cents for point in note.points]))


def test_notes_and_bends_are_those_of_the_tables(take: Path) -> None:
    """Each note at its time for its length, each value of its curve within one step of the table's, and blueness."""
    messages = to_the_end(take)
    ons, offs = of(messages, "on"), of(messages, "off")
    assert [(on.arguments[1], on.arguments[2], on.arguments[3]) for on in ons] == [
        (note.id, note.midi_note, note.degree) for note in PHRASE
    ]
    assert [on.time_s for on in ons] == pytest.approx([note.start_s for note in PHRASE], abs=0.001)
    assert [off.time_s for off in offs] == pytest.approx([note.end_s for note in PHRASE], abs=0.001)
    assert [on.arguments[4] for on in ons] == pytest.approx([note.points[0].bend_cents for note in PHRASE], abs=0.01)
    by_id = {note.id: note for note in PHRASE}
    for move in of(messages, "inflect"):
        note = by_id[int(move.arguments[1])]
        assert move.arguments[2] == pytest.approx(bend(note, move.time_s - note.start_s), abs=STEEPEST * STEP_S)
    blue = [move.arguments[3] for move in of(messages, "inflect") if move.arguments[1] == 3]
    # Note 3 swings between 350 and 390 cents above the root: fully blue at its lowest (zone up to 365).
    assert max(blue) == 1.0


def test_a_receiver_hears_the_pitch_too(take: Path) -> None:
    """In the middle of the fifth D5, 587.33 Hz (MIDI 1.0 tuning); in a rest nothing."""
    points = of(to_the_end(take, "--from", "3.2"), "pitch")
    sounding = [point for point in points if 0.2 < point.time_s < 0.5]
    assert [point.arguments[1] for point in sounding] == pytest.approx([587.33] * len(sounding), abs=0.01)
    assert len(sounding) > 10
    assert points[0].arguments[1] == 0.0


def test_from_a_time_inside_a_note_at_half_the_speed(take: Path) -> None:
    """From 1.2 to 2.3 s: the third sounds on from its bend there, all takes twice as long, ended where it is cut."""
    messages = to_the_end(take, "--from", "1.2", "--to", "0:02.3", "--speed", "0.5")
    ons, offs = of(messages, "on"), of(messages, "off")
    assert [on.arguments[2] for on in ons] == [71, 71]
    assert [on.time_s for on in ons] == pytest.approx([0.0, 1.8], abs=0.002)
    assert [off.time_s for off in offs] == pytest.approx([1.6, 2.2], abs=0.002)
    assert ons[0].arguments[4] == pytest.approx(bend(PHRASE[1], 0.4), abs=0.1)
    for move in of(messages, "inflect"):
        if move.arguments[1] == 2:
            at_s = 0.4 + 0.5 * move.time_s
            assert move.arguments[2] == pytest.approx(bend(PHRASE[1], at_s), abs=STEEPEST * STEP_S)


@contextmanager
def looping(take: Path, ear: OscEar, folder: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A replay of 0.8 s of the take that never ends, in a process group of its own."""
    command = [REEDWIRE, "replay", str(take), "--from", "0.7", "--to", "1.5", "--loop", "--midi", "none"]
    command += ["--osc", f"127.0.0.1:{ear.port}"]
    with (folder / "err.txt").open("wb") as err:
        pipes: dict[str, object] = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": err}
        with running(command, cwd=folder, start_new_session=True, **pipes) as process:
            yield process


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_loop_comes_round_and_an_end_in_a_note_leaves_nothing_sounding(
    take: Path, tmp_path: Path, number: signal.Signals
) -> None:
    """Every 0.8 s the third begins again; asked to end while it sounds, the command ends it first, and well."""
    with OscEar() as ear, looping(take, ear, tmp_path) as process:
        alive = lambda: process.poll() is None  # noqa: E731 -- one word for what is asked often
        wait_until("three rounds", lambda: len(of(ear.messages, "on")) >= 3, alive)
        wait_until("inside a note", lambda: len(of(ear.messages, "on")) > len(of(ear.messages, "off")), alive)
        process.send_signal(number)
        process.wait(PATIENCE_S)
        ons = of(ear.messages, "on")
        wait_until("every off", lambda: len(of(ear.messages, "off")) == len(of(ear.messages, "on")))
        assert process.returncode == 0, (tmp_path / "err.txt").read_text(encoding="utf-8")
        assert [off.arguments[1] for off in of(ear.messages, "off")] == [on.arguments[1] for on in ons]
        begun = [on.time_s for on in ons]
        assert begun == pytest.approx([0.1 + 0.8 * index for index in range(len(ons))], abs=0.001)
        assert len({on.arguments[1] for on in ons}) == len(ons)
