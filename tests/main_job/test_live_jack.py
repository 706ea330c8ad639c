"""``reedwire play`` live: sound through a silent sound card (jackd), MIDI through JACK, OSC on the loopback.

Sources: MIDI 1.0, 4.2.1 (messages, RPN 0); OpenSound Control 1.0; what is played is known from the score.
"""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import soundfile

from bridge import __version__
from jack_server import jack_server
from main_job.expected import START_WITHIN_S, wanted
from main_job.live import Heard, Live, is_note_on, performance
from main_job.osc_ear import Message
from parts import require
from send.synth import Synth
from sounds.known import KnownSound
from sounds.sampled import play_score, sampled
from sounds.scores import DRAW, ScoreNote, phrase

#: A machine too slow for its sound card may drop sound, and other notes are then right: such a run is made again.
TRIES = 3
PERIOD = 1024
STEP_CENTS = 1200.0 / 8192
RPN_0 = [bytes.fromhex(text) for text in ("b06500", "b06400", "b0060c", "b02600")]
ALL_NOTES_OFF, ALL_SOUND_OFF, RESET = (bytes.fromhex(text) for text in ("b07b00", "b07800", "b07900"))
CENTRE = bytes.fromhex("e00040")
FORMS = {
    "/reedwire/hello": "iis",
    "/reedwire/on": "iiisff",
    "/reedwire/inflect": "iifffff",
    "/reedwire/degree": "iis",
    "/reedwire/off": "ii",
    "/reedwire/pitch": "iffff",
}


@dataclass(frozen=True)
class Run:
    """A performance that was heard, and the sound that was played into it."""

    sound: KnownSound
    heard: Heard


def interrupt(live: Live) -> None:
    """Ctrl-C: SIGINT to every process of the terminal's group."""
    os.killpg(live.process.pid, signal.SIGINT)


def terminate(live: Live) -> None:
    """SIGTERM to the command alone."""
    live.process.send_signal(signal.SIGTERM)


def connect(live: Live, *, own_port: bool) -> None:
    """Join the player to the microphone's place, and to the MIDI port where the command opened one of its own."""
    live.player.order("connect player:sound PortAudio:")
    if own_port:
        live.player.order("connect reedwire:reedwire player:midi")
    live.player.wait_for("connected", 1 + own_port)
    # After five seconds the next note tells a port of our own, which has only now found its synth, the bend range;
    # after one the meter has started and leaves the machine alone.
    silence_s = 5.1 if own_port else 1.0
    live.wait_until("the silence before the sound", lambda: live.ear.time_s > silence_s)


def play_until_the_last(sound: KnownSound, folder: Path, midi: str, end: Callable[[Live], None]) -> Heard:
    """Play the sound and ``end`` the command while its last note sounds."""
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(folder, sound.samples, env, ("--midi", midi)) as live,
    ):
        connect(live, own_port=midi == "virtual")
        live.player.order("play")
        count = len(sound.notes)
        live.wait_until("as many notes as are played", lambda: live.notes_begun() >= count or sound_is_over(live))
        end(live)
        return live.ended()


def sound_is_over(live: Live) -> bool:
    """Whether the player has nothing more to play."""
    return bool(live.player.said("played"))


def without_dropouts(attempt: Callable[[Path], Heard], folder: Path) -> Heard:
    """The first run during which the sound card was never late, or the last that is tried."""
    for number in range(TRIES):
        heard = attempt(folder / str(number))
        if heard.xruns == 0:
            break
    return heard


@pytest.fixture(scope="module")
def phrase_and_long_note() -> KnownSound:
    """The phrase, and then one note for so long that the end comes while it sounds."""
    score = phrase()
    long = ScoreNote(score[-1].start_s + score[-1].length_s + 0.2, 20.0, DRAW[3], hole=4, air="draw")
    return play_score((*score, long), "phrase and a long note")


@pytest.fixture(scope="module", params=[("player", interrupt), ("virtual", terminate)], ids=["SIGINT", "SIGTERM"])
def run(
    request: pytest.FixtureRequest, phrase_and_long_note: KnownSound, tmp_path_factory: pytest.TempPathFactory
) -> Run:
    """The phrase played live: into a port by its name, ended by Ctrl-C; into our own port, ended by SIGTERM."""
    midi, end = request.param
    if midi == "virtual" and Path("/dev/snd/seq").exists():
        pytest.skip("a port of our own is ALSA's on this machine, which JACK does not see")
    require("portaudio")
    attempt = partial(play_until_the_last, phrase_and_long_note, midi=midi, end=end)
    heard = without_dropouts(attempt, tmp_path_factory.mktemp("live"))
    return Run(phrase_and_long_note, heard)


def test_it_ends_well(run: Run) -> None:
    """Status 0, no traceback, no leak, and it says how many notes there were."""
    assert run.heard.said.accidents == []
    assert run.heard.said.status == 0, run.heard.said.err
    assert f"{len(run.sound.notes)} notes" in run.heard.said.out


def test_the_right_notes_arrive_in_order(run: Run) -> None:
    """Each note played is one Note On with its number."""
    begun = [data[1] for data in run.heard.midi if is_note_on(data)]
    allowed = [wanted(note, "C").numbers for note in run.sound.notes]
    assert len(begun) == len(allowed)
    assert [number for number, numbers in zip(begun, allowed, strict=True) if number not in numbers] == []


def test_the_bend_range_comes_first(run: Run) -> None:
    """The first messages are RPN 0 in the order 101, 100, 6, 38, with 12 semitones."""
    assert run.heard.midi[:4] == RPN_0


def test_nothing_is_left_sounding(run: Run) -> None:
    """One note sounds at a time, each until its off; at the end none does, and the channel is as others expect it."""
    synth = Synth()
    most = 0
    for data in run.heard.midi:
        synth.hear(data)
        most = max(most, len(synth.sounding))
    assert most == 1
    assert synth.sounding == {}
    assert synth.cents() == 0.0
    *_, off, centre, reset = run.heard.midi
    assert off[0] == 0x80
    assert centre == CENTRE
    assert reset == RESET


def test_each_note_begins_already_bent(run: Run) -> None:
    """The bend that a synth has when the Note On comes is the one that OSC tells of the same note, within a step."""
    synth = Synth()
    for data in run.heard.midi:
        synth.hear(data)
    told = [
        (message.arguments[2], message.arguments[4]) for message in run.heard.osc if message.address == "/reedwire/on"
    ]
    assert [number for number, _ in synth.begun] == [number for number, _ in told]
    assert [cents for _, cents in synth.begun] == pytest.approx([cents for _, cents in told], abs=STEP_CENTS)


def test_the_whole_way_from_low_to_straight_goes_over_midi(run: Run) -> None:
    """In the second note, a third begun 95 cents low, the synth is bent as low, and then up to straight (within 10)."""
    synth = Synth()
    cents: dict[int, list[float]] = {}
    for data in run.heard.midi:
        synth.hear(data)
        if synth.sounding:
            cents.setdefault(len(synth.begun), []).append(synth.cents())
    # Of the second note, its first half and its second; the recorded reed itself begins lower than it was asked to.
    lower, higher = np.array_split(cents[2], 2)
    assert min(lower) < -85.0
    assert max(higher) == pytest.approx(0.0, abs=10.0)
    # The tenth: dipped three semitones within one note.
    assert min(cents[10]) == pytest.approx(-300.0, abs=10.0)


def test_osc_begins_with_hello_and_repeats_it(run: Run) -> None:
    """The first message is hello with contract and program version at time 0; another comes at least every 5 s."""
    first = run.heard.osc[0]
    assert first == Message("/reedwire/hello", "iis", (0, 1, __version__))
    hellos = [message.time_s for message in run.heard.osc if message.address == "/reedwire/hello"]
    assert len(hellos) > 1
    assert max(np.diff([*hellos, run.heard.osc[-1].time_s])) < 5.1


def test_osc_has_the_agreed_types_and_ranges(run: Run) -> None:
    """Only the six addresses, each with its types; all of them come; values are where they may be."""
    assert {message.address for message in run.heard.osc} == set(FORMS)
    for message in run.heard.osc:
        assert message.types == FORMS[message.address]
        values = [value for value in message.arguments if isinstance(value, float)]
        assert all(np.isfinite(values))
        match message.address:
            case "/reedwire/on":
                assert 0.0 < values[1] <= 1.0
            case "/reedwire/inflect":
                _, blueness, lean, breath, bright = values
                assert min(blueness, breath, bright) >= 0.0
                assert max(blueness, breath, bright) <= 1.0
                assert -1.0 <= lean <= 1.0
            case "/reedwire/pitch":
                hz, _, level_db, clean = values
                assert hz == 0.0 or 80.0 <= hz <= 3300.0
                assert -120.0 <= level_db <= 3.0
                assert 0.0 <= clean <= 1.0


def test_osc_tells_each_note_from_on_to_off(run: Run) -> None:
    """Between on and off come only messages of that note; every on has its off; times never go back."""
    sounding: int | str | float | None = None
    ended = 0
    notes = [message for message in run.heard.osc if message.address not in ("/reedwire/hello", "/reedwire/pitch")]
    for message in notes:
        note_id = message.arguments[1]
        if message.address == "/reedwire/on":
            assert sounding is None
            sounding = note_id
        assert note_id == sounding
        if message.address == "/reedwire/off":
            sounding = None
            ended += 1
    assert sounding is None
    assert ended == len(run.sound.notes)
    assert np.all(np.diff([message.time_s for message in notes]) >= 0.0)
    points = [message.time_s for message in run.heard.osc if message.address == "/reedwire/pitch"]
    assert np.all(np.diff(points) >= 0.0)


def test_osc_tells_the_starts_and_degrees(run: Run) -> None:
    """Counted from the first, each note starts within 30 ms of when it was played, in a degree that it went through."""
    ons = [message for message in run.heard.osc if message.address == "/reedwire/on"]
    attacks = np.array([note.attack_s for note in run.sound.notes])
    late = np.array([message.time_s for message in ons]) - attacks
    assert np.max(np.abs(late - np.median(late))) <= START_WITHIN_S
    for message, note in zip(ons, run.sound.notes, strict=True):
        if note.bend.held:
            assert message.arguments[3] == wanted(note, "C").degree
    moved = [message.arguments[2] for message in run.heard.osc if message.address == "/reedwire/degree"]
    # The tenth note is dipped from the third down to the flat second.
    assert "b2" in moved


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


def test_panic_silences_the_channel_in_the_right_order(phrase_and_long_note: KnownSound, tmp_path: Path) -> None:
    """Note Off of what sounds first, since 123 may be ignored (MIDI 1.0), then 123, 120 and the bend to its centre."""
    require("portaudio")
    heard = without_dropouts(partial(panic_in_a_note, phrase_and_long_note), tmp_path)
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
