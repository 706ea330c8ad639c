"""The file that knows rtmidi: what two of its callers do at once."""

from __future__ import annotations

import os
import threading
import time

import pytest

from bridge.send.midi_system import virtual_port
from send.made_midi import MadeClient, made_systems


class SlowClient(MadeClient):
    """A client that takes its time, as those of JACK do."""

    def __init__(self, api: int, name: str) -> None:
        super().__init__(api, name)
        time.sleep(0.05)


def test_two_ports_opened_at_once_leave_standard_error_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    """The C libraries are kept quiet meanwhile; whoever is second must not take that silence for what was before."""
    made_systems(monkeypatch, MidiOut=SlowClient, MidiIn=SlowClient)
    before = os.fstat(2)
    for _ in range(3):
        both = [threading.Thread(target=virtual_port, args=("reedwire", way)) for way in ("out", "in")]
        for thread in both:
            thread.start()
            time.sleep(0.02)
        for thread in both:
            thread.join()
    after = os.fstat(2)
    assert (after.st_dev, after.st_ino) == (before.st_dev, before.st_ino)
