"""``reedwire play`` live with a set of harps, changed by a pedal's program changes and by OSC while a note sounds.

Source of the bytes: MIDI 1.0, 4.2.1 (Program Change Cn, counted from 0); OSC 1.0 (address and types filled with zeros).
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from jack_server import jack_server
from main_job.live import Heard, Live, is_note_on, performance
from main_job.live_run import PERIOD, connect, phrase_and_long_note, terminate, without_dropouts
from main_job.test_live_footswitch import said, sounding
from parts import require
from send.synth import Synth

SECOND_HARP, FIRST_HARP, NO_HARP = "c001", "c000", "c005"


@contextmanager
def another_note(live: Live) -> Iterator[None]:
    """Wait for a note that was not there before: that one still sounds does not say that it has ended."""
    before = live.notes_begun()
    yield
    live.wait_until("another note sounds", lambda: live.notes_begun() > before and sounding(live) == 1)


def changed(folder: Path) -> Heard:
    """Take the second harp by program change in a note, the third by OSC, and ask for one that there is not."""
    arguments = ("--midi", "player", "--harps", "C,A,low-D", "--harp-pedal", "pedal")
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(folder, phrase_and_long_note().samples, env, arguments) as live,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender,
    ):
        connect(live, own_port=False)
        live.player.order("play")
        live.wait_until("a note sounds", lambda: sounding(live) == 1)
        with another_note(live):
            live.player.order(f"send {SECOND_HARP}")
            live.wait_until("the harp is in A", said(live, "A harp, cross position"))
        with another_note(live):
            sender.sendto(b"/reedwire/do/harp\0\0\0,i\0\0\0\0\0\3", ("127.0.0.1", live.commands_port))
            live.wait_until("the harp is in low D", said(live, "low-D harp, cross position"))
        live.player.order(f"send {NO_HARP}")
        live.wait_until("a wrong place is told", said(live, "There is no harp 6: the set has 3."))
        with another_note(live):
            live.player.order(f"send {FIRST_HARP}")
            live.wait_until("the harp is in C again", said(live, "C harp, cross position"))
        terminate(live)
        return live.ended()


@pytest.mark.timeout(240)
def test_a_pedal_and_osc_take_another_harp_in_a_note(tmp_path: Path) -> None:
    """Each note ends before the next begins, none is left sounding, and what is not in the set is told in one line."""
    require("portaudio")
    heard = without_dropouts(changed, tmp_path)
    assert heard.said.status == 0, heard.said.err
    assert heard.said.accidents == []
    synth, most = Synth(), 0
    for data in heard.midi:
        synth.hear(data)
        most = max(most, len(synth.sounding))
    assert sum(map(is_note_on, heard.midi)) >= 4
    assert most == 1
    assert synth.sounding == {}
