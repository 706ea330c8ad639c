"""``reedwire replay`` through JACK: MIDI against the take's own MIDI file, and the sound sample for sample.

Sources: MIDI 1.0, 4.2.1 (messages, RPN 0, bend), followed by the tests' own synth; the MIDI file is read by mido.
"""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import mido
import numpy as np
import pytest

from bridge.wiring.rebuilding import rebuild_take
from jack_server import jack_server
from main_job import jack_recorder
from main_job.command import PATIENCE_S
from main_job.live import Heard, performance
from main_job.live_run import ALL_NOTES_OFF, ALL_SOUND_OFF, CENTRE, PERIOD, RESET, without_dropouts
from parts import require, running
from send.synth import Synth
from wiring.made_takes import PHRASE, RATE, make_take, stored

STEP_CENTS = 200.0 / 8192
SILENCE = np.zeros(RATE, np.float32)


@pytest.fixture
def take(tmp_path: Path) -> Path:
    """The phrase as a take, with its MIDI file; a bend range of two semitones."""
    path = make_take(tmp_path / "phrase").folder.path
    rebuild_take(path, lambda _: None)
    return path


def bends(messages: Iterable[bytes]) -> list[tuple[int, float, float, float]]:
    """Of each note its number, the bend it begins with, the lowest and the highest while it sounds, cents."""
    synth, notes = Synth(), list[list[float]]()
    for data in messages:
        synth.hear(data)
        if len(synth.begun) > len(notes):
            notes.append([synth.begun[-1][1]])
        elif synth.sounding:
            notes[-1].append(synth.cents())
    return [(begun[0], cents[0], min(cents), max(cents)) for begun, cents in zip(synth.begun, notes, strict=True)]


def replayed(take: Path, folder: Path, *words: str) -> Heard:
    """A replay to its end, heard by a program of the tests."""
    require("portaudio")
    arguments = ("--midi", "player", "--set", "send.midi.bend_range=2", *words)
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(folder, SILENCE, env, arguments, ("replay", str(take))) as live,
    ):
        return live.ended()


def test_a_synth_hears_what_the_midi_file_holds(take: Path, tmp_path: Path) -> None:
    """The same notes, each begun, at its lowest and at its highest within one bend step; then silence and all reset."""
    heard = replayed(take, tmp_path / "run")
    assert heard.said.status == 0, heard.said.err
    assert heard.said.accidents == []
    assert "4 notes sent, none left sounding" in heard.said.out
    track = mido.MidiFile(take / "performance.mid").tracks[1]
    file = [
        bytes(message.bytes())
        for message in track
        if message.type in {"note_on", "note_off", "pitchwheel", "control_change"}
    ]
    wanted, got = bends(file), bends(heard.midi)
    assert [note[0] for note in got] == [note[0] for note in wanted] == [note.midi_note for note in PHRASE]
    for note, other in zip(got, wanted, strict=True):
        assert note[1:] == pytest.approx(other[1:], abs=1.01 * STEP_CENTS)
    assert heard.midi[-5][0] == 0x80
    assert heard.midi[-4:] == [ALL_NOTES_OFF, ALL_SOUND_OFF, CENTRE, RESET]


def test_ended_inside_a_note_it_leaves_nothing_sounding(take: Path, tmp_path: Path) -> None:
    """SIGTERM while the third sounds: its Note Off, 123, 120, the bend at its centre, controllers reset."""
    require("portaudio")
    arguments = ("--midi", "player", "--loop", "--from", "0.9", "--to", "1.9")
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(tmp_path / "run", SILENCE, env, arguments, ("replay", str(take))) as live,
    ):
        live.wait_until("three rounds", lambda: live.notes_begun() >= 3)
        live.process.send_signal(signal.SIGTERM)
        heard = live.ended()
    assert heard.said.status == 0, heard.said.err
    synth = Synth()
    for data in heard.midi:
        synth.hear(data)
    assert synth.sounding == {}
    assert synth.cents() == 0.0
    assert heard.midi[-5][:2] == bytes([0x80, 71])
    assert heard.midi[-4:] == [ALL_NOTES_OFF, ALL_SOUND_OFF, CENTRE, RESET]


@contextmanager
def recorder(out: Path, env: Mapping[str, str]) -> Iterator[None]:
    """A program that records what is played, and has written it when the ``with`` ends."""
    command = [sys.executable, jack_recorder.__file__, str(out)]
    pipes: dict[str, object] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
    with running(command, env=env, **pipes) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdout.readline()
        yield
        process.stdin.close()
        process.wait(PATIENCE_S)
        process.stdout.close()


def test_the_sound_is_played_as_it_is_stored_and_round_again(take: Path, tmp_path: Path) -> None:
    """From 0.9 to 1.9 s, twice and more without a gap: each sample that of sound.wav, to what 24 bits tell."""
    require("portaudio")
    part = stored(take / "sound.wav")[round(0.9 * RATE) : round(1.9 * RATE)].astype(np.float64) / 2.0**31

    def attempt(folder: Path) -> Heard:
        arguments = ("--midi", "player", "--loop", "--from", "0.9", "--to", "1.9", "--sound")
        with (
            jack_server(period=PERIOD, patient=True) as env,
            recorder(tmp_path / "recorded.npz", env),
            performance(folder, SILENCE, env, arguments, ("replay", str(take))) as live,
        ):
            live.wait_until("four rounds", lambda: live.notes_begun() >= 4)
            live.process.send_signal(signal.SIGTERM)
            return live.ended()

    heard = without_dropouts(attempt, tmp_path / "runs")
    assert heard.said.status == 0, heard.said.err
    assert "sound.wav" in heard.said.err
    recorded = np.load(tmp_path / "recorded.npz")["samples"].astype(np.float64)
    # The recorder may have come a little late: where it was in the part, a stretch of it tells.
    sounding = np.flatnonzero(recorded)
    begin = int(sounding[0]) + 1000
    probe = recorded[begin : begin + 1000]
    looped = np.tile(part, 4)
    place = int(np.argmin([np.sum((looped[at : at + 1000] - probe) ** 2) for at in range(len(part))]))
    # And it may have ended in the middle of a round, when the command was told to.
    count = min(2 * len(part), int(sounding[-1]) - begin)
    assert count > 1.2 * len(part)
    np.testing.assert_allclose(recorded[begin : begin + count], looped[place : place + count], rtol=0.0, atol=2.0**-22)
