"""``reedwire play`` live and asked for something in the middle: panic over OSC, and an end after so many seconds."""

from __future__ import annotations

import socket
from functools import partial
from pathlib import Path

import soundfile

from jack_server import jack_server
from main_job.expected import wanted
from main_job.live import Heard, is_note_on, performance
from main_job.live_run import (
    ALL_NOTES_OFF,
    ALL_SOUND_OFF,
    CENTRE,
    PERIOD,
    RESET,
    RPN_0,
    connect,
    phrase_and_long_note,
    terminate,
    without_dropouts,
)
from parts import require
from send.synth import Synth
from sounds.known import KnownSound
from sounds.sampled import sampled


def panic_in_a_note(sound: KnownSound, folder: Path) -> Heard:
    """Ask for panic over OSC as soon as a note has begun, and end the command when the channel has been silenced."""
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(folder, sound.samples, env, ("--midi", "player")) as live,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender,
    ):
        connect(live, own_port=False)
        live.player.order("play")
        live.wait_until("a note begins", lambda: live.notes_begun() >= 1)
        # OSC 1.0: the address and the empty type tags, each filled with zeros to a multiple of four bytes.
        sender.sendto(b"/reedwire/do/panic\0\0,\0\0\0", ("127.0.0.1", live.commands_port))
        live.wait_until("the bend is centred", lambda: CENTRE in live.player.midi)
        terminate(live)
        return live.ended()


def test_panic_silences_the_channel_in_the_right_order(tmp_path: Path) -> None:
    """Note Off of what sounds first, since 123 may be ignored (MIDI 1.0), then 123, 120 and the bend to its centre."""
    require("portaudio")
    heard = without_dropouts(partial(panic_in_a_note, phrase_and_long_note()), tmp_path)
    assert heard.said.status == 0
    assert heard.said.accidents == []
    silenced = heard.midi.index(ALL_NOTES_OFF)
    synth = Synth()
    for data in heard.midi[:silenced]:
        synth.hear(data)
    assert synth.begun
    assert synth.sounding == {}
    assert heard.midi[silenced + 1 : silenced + 3] == [ALL_SOUND_OFF, CENTRE]
    for data in heard.midi[silenced:]:
        synth.hear(data)
    assert synth.sounding == {}


def test_a_file_played_in_its_own_time_ends_when_asked(tmp_path: Path) -> None:
    """``--input FILE --seconds 3``: the notes of three seconds, the one that sounds then is ended, status 0."""
    sound = sampled("phrase")
    soundfile.write(tmp_path / "phrase.wav", sound.samples, sound.rate)
    arguments = ("--input", str(tmp_path / "phrase.wav"), "--midi", "player", "--seconds", "3")
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(tmp_path / "run", sound.samples, env, arguments) as live,
    ):
        heard = live.ended()
    assert heard.said.status == 0
    assert heard.said.accidents == []
    allowed = [wanted(note, "C").numbers for note in sound.notes if note.attack_s < 2.98]
    begun = [data[1] for data in heard.midi if is_note_on(data)]
    assert len(begun) == len(allowed)
    assert all(number in numbers for number, numbers in zip(begun, allowed, strict=True))
    assert heard.midi[:4] == RPN_0
    assert [data[:2] for data in heard.midi if data[0] == 0x80][-1] == bytes((0x80, begun[-1]))
    assert heard.midi[-2:] == [CENTRE, RESET]
    assert heard.osc[-1].time_s <= 3.0
