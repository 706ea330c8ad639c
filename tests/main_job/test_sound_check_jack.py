"""A whole sound check on a silent sound card into which a player plays: what is on the page is what was made.

Sources: a period of JACK is its frames by its rate (jackd's manual); the bytes of the bend test are MIDI 1.0, 4.2.1.
"""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import struct
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from fcntl import ioctl
from pathlib import Path
from termios import TIOCSWINSZ

import numpy as np
import pytest
from numpy.typing import NDArray

from bridge.wiring.settings import load_settings
from follow.checked_sounds import in_room, noise, notes
from follow.tones import RATE
from jack_server import jack_server
from main_job.command import PATIENCE_S, REEDWIRE, Said, reedwire
from main_job.live import Player, wait_until
from parts import require, running

PERIOD, BLOCK = 1024, 128
#: Seconds that each part is listened to, and of noise before anything is played: the card's start, and some to spare.
PART_S, NOISE_S = 4.0, 5.5
#: 262, 523 and 784 Hz are C4, C5 and G5 (MIDI 1.0: 60, 72, 79).
HARP = notes((261.63, 523.25, 784.0), seconds=0.6, level_db=-15.0)


@dataclass(frozen=True)
class Listening:
    """The command, the player, and what the command has written so far."""

    process: subprocess.Popen[bytes]
    player: Player
    out: Path
    err: Path

    def ended(self) -> Said:
        """Wait for the end, of the player too."""
        status = self.process.wait(PATIENCE_S)
        self.player.end()
        return Said(status, self.out.read_text(encoding="utf-8"), self.err.read_text(encoding="utf-8"))


@contextmanager
def listening(folder: Path, sound: NDArray[np.float64], *arguments: str, **to: object) -> Iterator[Listening]:
    """``reedwire check`` to which a player gives the room's noise and then ``sound``, from when it opens the card on.

    Its outputs go ``to`` where that is said, else into files in the ``folder``.
    """
    require("portaudio")
    np.save(folder / "sound.npy", np.concatenate([noise(round(NOISE_S * RATE)), sound]).astype(np.float32))
    command = [*(["setsid", "--ctty"] if to else []), REEDWIRE, "check", "--no-sound", *arguments]
    out, err = folder / "out.txt", folder / "err.txt"
    with (
        jack_server(period=PERIOD, patient=True) as env,
        Player(folder / "sound.npy", env) as player,
        out.open("wb") as said,
        err.open("wb") as complained,
    ):
        pipes: dict[str, object] = {"stdin": subprocess.DEVNULL, "stdout": said, "stderr": complained, **to}
        with running(command, env={**env, "PYTHONUNBUFFERED": "1"}, cwd=folder, **pipes) as process:
            player.order("connect player:sound PortAudio:in_0")
            wait_until("it listens", lambda: bool(player.said("connected")), lambda: process.poll() is None)
            player.order("play")
            yield Listening(process, player, out, err)


def checked(folder: Path, sound: NDArray[np.float64], *arguments: str) -> tuple[Said, list[bytes]]:
    """What is said of that player, and what the synth heard."""
    with listening(folder, sound, "--seconds", f"{PART_S:g}", *arguments) as run:
        return run.ended(), run.player.midi


def page_of(said: Said) -> str:
    """The page alone, its lines joined."""
    return " ".join(said.out[said.out.index("SOUND CHECK") :].split())


def test_a_whole_check_says_what_was_made_and_the_synth_hears_a_semitone(tmp_path: Path) -> None:
    """Levels and compass as made, the period of JACK, a sum that adds up, and the bend test byte by byte."""
    said, midi = checked(tmp_path, in_room(HARP), "--midi", "player:midi")
    assert (said.status, said.accidents) == (0, []), said.err
    assert said.out.index("Play nothing for 4 seconds") < said.out.index("Now play for 4 seconds")
    page = page_of(said)
    heard = re.search(r"s, (\w+) to (\w+): soft (-\d+), hard (-\d+), peak (-[\d.]+) dBFS; not overloaded", page)
    assert heard is not None, page
    assert heard.groups()[:2] == ("C4", "G5")
    # All three notes are at -15 dBFS; the high-pass takes some of the lowest.
    assert [float(level) for level in heard.groups()[2:4]] == pytest.approx([-15.0, -15.0], abs=2.0)
    assert float(heard[5]) == pytest.approx(20.0 * np.log10(np.max(np.abs(in_room(HARP)))), abs=0.3)
    assert "no hum" in page
    assert "no noise suppression seen" in page
    card = re.search(r"calls every ([\d.]+) ms with (\d+) blocks", page)
    assert card is not None, page
    assert float(card[1]) == pytest.approx(1000.0 * PERIOD / RATE, abs=1.0)
    assert int(card[2]) == PERIOD // BLOCK
    assert f"period (or buffer) to {BLOCK} samples: it gives" in page
    rows = re.findall(r"(block|window|worker|MIDI|sum) +([\d.]+) +([\d.]+) +([\d.]+)", page)
    columns = np.array([[float(cell) for cell in row[1:]] for row in rows])
    assert np.abs(columns[:-1].sum(axis=0) - columns[-1]).max() < 0.21
    load_settings(sets=re.findall(r"--set (\S+)", said.out))
    sounding = [data.hex() for data in midi if data[0] & 0xF0 != 0xB0]
    assert sounding == [
        *("e00040", "903c40", "803c40", "903d40", "803d40", "903c40", "e00060", "e00040", "803c40", "e00040"),
    ]
    range_2 = [bytes.fromhex(data) for data in ("b06500", "b06400", "b00602", "b02600")]
    begins = midi.index(bytes.fromhex("903c40"))
    assert midi[:begins][-len(range_2) - 5 :][:4] == range_2


def test_a_gated_and_overloaded_player_is_told_what_to_change(tmp_path: Path) -> None:
    """Cut at full scale, and nothing at all between the notes: both, in that order, and which port is missing."""
    gate = np.convolve(np.abs(HARP), np.ones(960) / 960.0, mode="same") > 1e-3
    said, midi = checked(tmp_path, np.clip(12.0 * in_room(HARP) * gate, -1.0, 1.0))
    assert said.status == 0, said.err
    assert midi == []
    page = page_of(said)
    assert re.search(r"peak 0\.0 dBFS; overloaded in \d+ places; noise suppression", page), page
    assert page.index("1. Turn the input down by 10 dB") < page.index("2. Switch noise suppression off")
    assert "Not done bend test (--midi PORT), loudspeaker" in page


def test_a_synth_that_is_not_there_is_told_before_anything_is_heard(tmp_path: Path) -> None:
    """Status 2, and the ports that there are."""
    with jack_server(period=PERIOD, patient=True) as env:
        said = reedwire("check", "--midi", "nowhere", cwd=tmp_path, env=env)
    assert (said.status, said.out) == (2, "")
    assert "No MIDI port fits 'nowhere'" in said.err


def test_a_dead_microphone_is_told_once_nobody_was_heard_either(tmp_path: Path) -> None:
    """Nothing plays into the card, which gives nothing but zeros: status 1, and nothing is saved."""
    require("portaudio")
    with jack_server(period=PERIOD, patient=True) as env:
        said = reedwire("check", "--no-sound", "--seconds", "2", "--save", "a.yaml", cwd=tmp_path, env=env)
    assert said.status == 1
    assert "Nothing was saved." in said.err
    assert "1. Nothing but silence comes from the microphone: check its switch" in said.out
    assert "computed for this harp" in said.out
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_while_playing_shows_what_was_measured(tmp_path: Path) -> None:
    """The page with what came until then, one plain line, status 130."""
    with listening(tmp_path, in_room(HARP), "--seconds", f"{PART_S:g}") as run:
        wait_until("it asks", lambda: b"Now play" in run.out.read_bytes(), lambda: run.process.poll() is None)
        run.process.send_signal(signal.SIGINT)
        said = run.ended()
    assert (said.status, said.err) == (130, "Stopped; this is what was measured until then.\n")
    assert "Room     noise -6" in said.out
    assert said.accidents == []


def test_q_ends_the_playing_and_the_page_fits_the_terminal(tmp_path: Path) -> None:
    """On 24 rows of 80, long before the 12 seconds are over; status 0."""
    master, slave = pty.openpty()
    ioctl(slave, TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    seen, pressed, until = b"", False, time.monotonic() + PATIENCE_S
    with listening(tmp_path, in_room(HARP), stdin=slave, stdout=slave, stderr=slave) as run:
        while run.process.poll() is None or select.select([master], [], [], 0.1)[0]:
            assert time.monotonic() < until, seen
            if select.select([master], [], [], 0.1)[0]:
                seen += os.read(master, 65536)
            if not pressed and b"q ends it sooner" in seen:
                os.write(master, b"q")
                pressed = True
        run.player.end()
        assert run.process.returncode == 0, seen
        # The player had not come to the end of the sound.
        assert not run.player.said("played")
    os.close(master)
    os.close(slave)
    text = seen.decode().replace("\r\n", "\n")
    page = text[text.index("SOUND CHECK") :].splitlines()
    assert len(page) < 24
    assert max(map(len, page)) <= 80
