"""``reedwire play`` on a stage that breaks: the sound server killed, stopped, the receiver unplugged, helpers killed.

Real parts: jackd, PortAudio, rtmidi. How long each took is kept with the test's result; what is asserted is far more
than a stage may take, since a loaded machine may be slow. Source of the bytes: MIDI 1.0, 4.2.1.
"""

from __future__ import annotations

import os
import re
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np
import pytest

from jack_server import JackServer, server_to_break
from main_job.fault_room import Stage, is_on, sounding, staged
from main_job.live import Live, wait_until
from main_job.live_run import CENTRE, RPN_0, connect, terminate
from parts import require

Record = Callable[[str, object], None]
#: A stage waits two seconds at most; a machine that runs other tests meanwhile is given this.
GENEROUS_S = 15.0


@contextmanager
def begun(folder: Path, midi: str, *more: str) -> Iterator[tuple[JackServer, Stage]]:
    """A performance of a phrase that goes round and round, once notes have been heard.

    On the server of a stage: a patient one, which no stage has, waits long for each client that was killed.
    """
    require("portaudio")
    with server_to_break(period=1024, urgent=True) as server, staged(folder, server, midi, *more) as stage:
        connect(stage.live, own_port=midi == "virtual")
        stage.live.player.order("keep player:sound PortAudio:")
        stage.live.player.order("loop")
        stage.live.wait_until("notes are heard", lambda: stage.notes_told() >= 2 and stage.live.notes_begun() >= 2)
        yield server, stage


def end(live: Live) -> None:
    """End it; status 0, no accident, nothing left of it, nothing sounding."""
    terminate(live)
    heard = live.ended()
    assert heard.said.status == 0, heard.said.err
    assert heard.said.accidents == []
    assert sounding(heard.midi) == set()


def test_after_the_sound_server_was_killed_it_plays_on_as_soon_as_there_is_another(
    tmp_path: Path, record_property: Record
) -> None:
    """What sounded is ended at once; with a new server sound is followed and the port is there again, range first."""
    if Path("/dev/snd/seq").exists():
        pytest.skip("a port of our own is ALSA's on this machine, which JACK does not see")
    with begun(tmp_path / "run", "virtual") as (server, stage):
        stage.wait_for_a_note()
        server.send_signal(signal.SIGKILL)
        record_property("ended_s", stage.seconds_until("what sounds is ended", lambda: not stage.told_sounding()))
        told = stage.notes_told()
        assert stage.live.process.poll() is None
        server.start()
        with stage.another_player(server) as player:
            player.order("loop")
            player.order("keep player:sound PortAudio:")
            player.order("connect reedwire:reedwire player:midi")
            back_s = stage.seconds_until("sound is followed again", lambda: stage.notes_told() > told)
            record_property("followed_again_s", back_s)
            player.wait_for("connected")
            ranged_s = stage.seconds_until("the range is sent", lambda: RPN_0[2] in player.midi)
            record_property("ranged_s", ranged_s)
            stage.seconds_until("a note comes by MIDI", lambda: any(map(is_on, player.midi)))
            assert back_s < GENEROUS_S
            end(stage.live_with(player))


def test_a_sound_server_that_hangs_for_a_while_is_followed_again(tmp_path: Path, record_property: Record) -> None:
    """Stopped in its tracks for three seconds: notes end meanwhile, and go on when it does."""
    with begun(tmp_path / "run", "player") as (server, stage):
        stage.wait_for_a_note()
        server.send_signal(signal.SIGSTOP)
        try:
            record_property("ended_s", stage.seconds_until("what sounds is ended", lambda: not stage.told_sounding()))
            time.sleep(3.0)
            told = stage.notes_told()
        finally:
            server.send_signal(signal.SIGCONT)
        back_s = stage.seconds_until("sound is followed again", lambda: stage.notes_told() > told)
        record_property("followed_again_s", back_s)
        assert back_s < GENEROUS_S
        before = stage.live.notes_begun()
        stage.seconds_until("a note comes by MIDI", lambda: stage.live.notes_begun() > before)
        end(stage.live)


def test_a_receiver_that_was_unplugged_is_told_its_range_and_plays_on(tmp_path: Path, record_property: Record) -> None:
    """The playing goes on without it; when its port is back, bend range first, then notes."""
    with begun(tmp_path / "run", "player") as (_, stage):
        player = stage.live.player
        stage.wait_for_a_note()
        player.order("deaf")
        stage.live.wait_until("it is missed", lambda: "is gone" in stage.said())
        told = stage.notes_told()
        stage.live.wait_until("the playing goes on", lambda: stage.notes_told() > told + 1)
        before = len(player.midi)
        player.order("hear")
        back_s = stage.seconds_until("a note comes", lambda: any(map(is_on, player.midi[before:])))
        record_property("back_s", back_s)
        assert back_s < GENEROUS_S
        after = player.midi[before:]
        assert RPN_0[2] in after[: next(index for index, data in enumerate(after) if is_on(data))]
        end(stage.live)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGINT, signal.SIGQUIT])
def test_whenever_it_is_asked_to_end_nothing_is_left(
    number: signal.Signals, tmp_path: Path, record_property: Record
) -> None:
    """At a moment that nobody planned: Note Off, 123, 120, bend to its centre, the end, and no process left."""
    wait_s = float(np.random.default_rng(int(number)).uniform(0.0, 1.5))
    with begun(tmp_path / "run", "player") as (_, stage):
        time.sleep(wait_s)
        stage.wait_for_a_note()
        helpers = stage.helpers()
        assert helpers
        asked_s = time.monotonic()
        stage.live.process.send_signal(number)
        # By polling, and not by ``Live.wait_until``: that takes an end for a failure.
        wait_until("it is silenced", lambda: b"\xb0\x7b\x00" in stage.live.player.midi)
        record_property("silenced_s", time.monotonic() - asked_s)
        stage.live.process.wait(GENEROUS_S)
        record_property("ended_s", time.monotonic() - asked_s)
        heard = stage.live.ended()
        assert heard.said.status == 0, heard.said.err
        assert heard.said.accidents == []
        assert not [helper for helper in helpers if Path(f"/proc/{helper}").exists()]
        assert sounding(heard.midi) == set()
        ending = heard.midi[max(index for index, data in enumerate(heard.midi) if is_on(data)) :]
        off = bytes((0x80, ending[0][1]))
        order = [
            next(i for i, data in enumerate(ending) if data[:2] == head) for head in (off, b"\xb0\x7b", b"\xb0\x78")
        ]
        assert order == sorted(order)
        assert CENTRE in ending[order[-1] :]


def test_helpers_that_are_killed_one_by_one_do_not_stop_the_playing(tmp_path: Path) -> None:
    """Meter, take writer, the sound card's process and any other: after each of them is gone, notes go on coming."""
    with begun(tmp_path / "run", "player", "--take", str(tmp_path / "takes")) as (_, stage):
        helpers = stage.helpers()
        assert len(helpers) >= 3
        for helper in helpers:
            # One may have been replaced already: the one that looks for ports is, when the sound server is busy.
            with suppress(ProcessLookupError):
                os.kill(helper, signal.SIGKILL)
            time.sleep(0.5)
            stage.wait_for_more()
        terminate(stage.live)
        heard = stage.live.ended()
        assert heard.said.accidents == []
        # The take is not whole, and nobody says that it is.
        assert heard.said.status == 1
        assert re.search(
            r"stops after [\d.]+ s of [\d.]+ s: its writer was ended by signal 9\.", " ".join(heard.said.err.split())
        )
        assert sounding(heard.midi) == set()
