"""``reedwire play`` live with a footswitch: MIDI through a JACK server, pressed while a note sounds.

Source of the bytes: MIDI 1.0, 4.2.1 (controller 64 is on from 64, Note On, Note Off).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from jack_server import jack_server
from main_job.live import Heard, Live, is_note_on, performance
from main_job.live_run import PERIOD, connect, phrase_and_long_note, terminate, without_dropouts
from parts import require
from send.synth import Synth

DOWN, UP = "b0407f", "b04000"
NOTE_DOWN, NOTE_UP = "993c7f", "893c40"


def sounding(live: Live) -> int:
    """How many notes sound now on a synth that hears what was sent."""
    synth = Synth()
    for data in live.player.midi:
        synth.hear(data)
    return len(synth.sounding)


def said(live: Live, line: str, times: int = 1) -> Callable[[], bool]:
    """Whether the command has printed this line so often."""
    return lambda: live.said_so_far().splitlines().count(line) >= times


def go_through(live: Live, *off: str) -> None:
    """Play to the long note's beginning, then send ``off`` and wait until that is heard and told."""
    live.player.order("play")
    live.wait_until("a note sounds", lambda: sounding(live) == 1)
    for message in off:
        live.player.order(f"send {message}")
    live.wait_until("it does not listen", said(live, "not listening"))


def pressed(arguments: tuple[str, ...], steps: Callable[[Live], None], folder: Path) -> Heard:
    """A performance with ``arguments`` and a pedal, during which ``steps`` happen."""
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(folder, phrase_and_long_note().samples, env, ("--midi", "player", *arguments)) as live,
    ):
        connect(live, own_port=False)
        steps(live)
        terminate(live)
        return live.ended()


def press_twice(live: Live) -> None:
    """Press in a note, and again a while later; another controller means nothing."""
    live.player.order("send b0437f")
    go_through(live, DOWN, UP)
    live.player.order(f"send {DOWN}")
    live.wait_until("it listens again", said(live, "listening"))
    live.wait_until("a note sounds again", lambda: sounding(live) == 1)


def test_a_press_ends_the_sounding_note_and_the_next_begins_anew(tmp_path: Path) -> None:
    """Note Off comes first, nothing goes out until the pedal is pressed again, and then a note does."""
    require("portaudio")
    heard = without_dropouts(partial(pressed, ("--footswitch", "pedal"), press_twice), tmp_path)
    assert heard.said.status == 0, heard.said.err
    assert heard.said.accidents == []
    synth, between, most = Synth(), 0, 0
    for data in heard.midi:
        most = max(most, between)
        between = 0 if is_note_on(data) or synth.sounding else between + 1
        synth.hear(data)
    # Off, then at most bend, breath, brightness, blueness and lean of the next note, and the range (4) before them.
    assert most <= 10
    assert synth.sounding == {}


def hold(live: Live) -> None:
    """Listen only while a key of the pedal is held, on channel 10."""
    live.wait_until("it begins without listening", said(live, "not listening"))
    live.player.order("play")
    live.player.order(f"send {NOTE_DOWN}")
    live.wait_until("a note sounds", lambda: sounding(live) == 1)
    live.player.order(f"send {NOTE_UP}")
    live.wait_until("it does not listen", said(live, "not listening", times=2))
    live.wait_until("nothing sounds", lambda: sounding(live) == 0)


def test_a_held_note_of_the_pedal_listens_while_it_is_held(tmp_path: Path) -> None:
    """With ``acts: hold`` it begins disarmed, a Note On arms and its Note Off disarms."""
    require("portaudio")
    arm = ("arm.sends=note", "arm.number=60", "arm.channel=10", "arm.acts=hold")
    arguments = ("--footswitch", "pedal", *(word for key in arm for word in ("--set", f"send.{key}")))
    with (
        jack_server(period=PERIOD, patient=True) as env,
        performance(tmp_path / "run", phrase_and_long_note().samples, env, ("--midi", "player", *arguments)) as live,
    ):
        live.player.order("connect player:sound PortAudio:")
        live.player.wait_for("connected")
        hold(live)
        terminate(live)
        heard = live.ended()
    assert heard.said.status == 0, heard.said.err
    assert heard.said.accidents == []


def unplug(live: Live) -> None:
    """The pedal goes away in a note and comes back."""
    live.player.order("play")
    live.wait_until("a note sounds", lambda: sounding(live) == 1)
    live.player.order("unplug")
    live.wait_until("it is missed", lambda: "of the pedal went away" in live.said_so_far())
    live.wait_until("the music goes on", lambda: live.notes_begun() >= 2)
    live.player.order("plug")
    live.wait_until("it is taken up", lambda: "of the pedal is back" in live.said_so_far())
    live.player.order(f"send {DOWN}")
    live.wait_until("it does not listen", said(live, "not listening"))


def test_a_pedal_that_is_unplugged_stops_nothing_and_works_again_when_it_is_back(tmp_path: Path) -> None:
    """One line tells that it went, one that it is back; the playing goes on."""
    require("portaudio")
    heard = without_dropouts(partial(pressed, ("--footswitch", "pedal"), unplug), tmp_path)
    assert heard.said.status == 0, heard.said.err
    assert heard.said.accidents == []
    assert heard.said.out.count("went away") == 1
