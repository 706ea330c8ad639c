"""``reedwire play`` live: sound through a silent sound card (jackd), MIDI through JACK, OSC on the loopback.

Sources: MIDI 1.0, 4.2.1 (messages, RPN 0); OpenSound Control 1.0; what is played is known from the score.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from bridge import __version__
from jack_server import jack_server
from main_job.expected import START_WITHIN_S, wanted
from main_job.live import Heard, Live, is_note_on, performance
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
from main_job.osc_ear import Message
from parts import require
from send.synth import Synth
from sounds.known import KnownSound

STEP_CENTS = 1200.0 / 8192
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


@pytest.fixture(scope="module", params=[("player", interrupt), ("virtual", terminate)], ids=["SIGINT", "SIGTERM"])
def run(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Run:
    """The phrase played live: into a port by its name, ended by Ctrl-C; into our own port, ended by SIGTERM."""
    midi, end = request.param
    if midi == "virtual" and Path("/dev/snd/seq").exists():
        pytest.skip("a port of our own is ALSA's on this machine, which JACK does not see")
    require("portaudio")
    sound = phrase_and_long_note()
    attempt = partial(play_until_the_last, sound, midi=midi, end=end)
    heard = without_dropouts(attempt, tmp_path_factory.mktemp("live"))
    return Run(sound, heard)


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
    *_, off, notes_off, sound_off, centre, reset = run.heard.midi
    assert off[0] == 0x80
    assert (notes_off, sound_off) == (ALL_NOTES_OFF, ALL_SOUND_OFF)
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
