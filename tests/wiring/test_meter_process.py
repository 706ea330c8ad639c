"""The meter's process seen from the engine: fed and asked without waiting, and always ended."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import active_children
from pathlib import Path

import pytest

from bridge.base.commands import Arm, Stop
from bridge.base.events import NoteOff
from bridge.base.handoff import HandOff
from bridge.base.records import Saying, decode, encode
from bridge.wiring.meter_process import Draw, MeterProcess, MeterSetup


def _setup(title: str) -> MeterSetup:
    return MeterSetup(title, 440.0, 400.0, 300.0, 350.0, 315.0, 365.0, None, os.getpid())


def _keep(feed: HandOff, keys: HandOff, setup: MeterSetup) -> None:
    """Write what comes into the file that the title names, and press two keys."""
    keys.push(encode(Arm()))
    keys.push(encode(Stop()))
    with Path(setup.title).open("w", encoding="utf-8") as file:
        while not feed.ended:
            file.writelines(f"{decode(data)}\n" for data in feed.drain())
            time.sleep(0.01)


def _hang(_feed: HandOff, _keys: HandOff, setup: MeterSetup) -> None:
    """Neither read nor end, not even when asked to."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    Path(setup.title).touch()
    while True:
        time.sleep(1.0)


def _fail(_feed: HandOff, _keys: HandOff, _setup: MeterSetup) -> None:
    """End at once, badly."""
    os._exit(3)


@contextmanager
def _started(draw: Draw, title: Path) -> Iterator[MeterProcess]:
    meter = MeterProcess(draw, _setup(str(title)))
    meter.start()
    try:
        yield meter
    finally:
        meter.close(patience_s=0.5)


def _wait_for(path: Path) -> None:
    for _ in range(3000):
        if path.exists():
            return
        time.sleep(0.01)
    pytest.fail("the meter never began")


def test_it_gets_everything_and_its_keys_come_back(tmp_path: Path) -> None:
    """Records and sayings arrive in order up to the last one, and keys come back once each."""
    file = tmp_path / "seen"
    meter = MeterProcess(_keep, _setup(str(file)))
    meter.start()
    meter.start()
    assert meter.show(encode(NoteOff(1, 2.0, 2.0)))
    assert meter.say("hello")
    _wait_for(file)
    assert meter.poll_commands() == [Arm(), Stop()]
    assert meter.poll_commands() == []
    assert meter.show(encode(NoteOff(2, 3.0, 3.0)))
    meter.close(patience_s=30.0)
    meter.close()
    seen = file.read_text(encoding="utf-8").splitlines()
    assert seen == [str(NoteOff(1, 2.0, 2.0)), str(Saying("hello")), str(NoteOff(2, 3.0, 3.0))]


def test_a_meter_that_hangs_holds_nobody_up(tmp_path: Path) -> None:
    """Feeding goes on with losses told, and closing ends the process however it resists."""
    with _started(_hang, tmp_path / "began") as meter:
        _wait_for(tmp_path / "began")
        taken = [meter.show(encode(NoteOff(number, 0.0, 0.0))) for number in range(10_000)]
    assert taken[0]
    assert not taken[-1]
    assert active_children() == []


def test_a_meter_that_dies_is_no_error(tmp_path: Path) -> None:
    """The engine can feed, ask and close a meter that is gone."""
    with _started(_fail, tmp_path / "never") as meter:
        for _ in range(3000):
            if not active_children():
                break
            time.sleep(0.01)
        assert meter.show(encode(NoteOff(1, 0.0, 0.0)))
        assert meter.poll_commands() == []


def test_closing_what_was_never_started_does_nothing() -> None:
    """A performance that fails before the meter is up can close it all the same."""
    MeterProcess(_keep, _setup("never")).close()
    assert active_children() == []
