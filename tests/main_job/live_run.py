"""What the live performances share: what is played, joining it to the command, and asking it to end.

Source of the bytes: MIDI 1.0, 4.2.1 (RPN 0, channel mode messages, pitch bend).
"""

from __future__ import annotations

import signal
from collections.abc import Callable
from pathlib import Path

from main_job.live import Heard, Live
from sounds.known import KnownSound
from sounds.sampled import play_score
from sounds.scores import DRAW, ScoreNote, phrase

#: A machine too slow for its sound card may drop sound, and other notes are then right: such a run is made again.
TRIES = 3


PERIOD = 1024


RPN_0 = [bytes.fromhex(text) for text in ("b06500", "b06400", "b0060c", "b02600")]


ALL_NOTES_OFF, ALL_SOUND_OFF, RESET = (bytes.fromhex(text) for text in ("b07b00", "b07800", "b07900"))


CENTRE = bytes.fromhex("e00040")


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


def without_dropouts(attempt: Callable[[Path], Heard], folder: Path) -> Heard:
    """The first run during which the sound card was never late, or the last that is tried."""
    for number in range(TRIES):
        heard = attempt(folder / str(number))
        if heard.xruns == 0:
            break
    return heard


def phrase_and_long_note() -> KnownSound:
    """The phrase, and then one note for so long that the end comes while it sounds."""
    score = phrase()
    long = ScoreNote(score[-1].start_s + score[-1].length_s + 0.2, 20.0, DRAW[3], hole=4, air="draw")
    return play_score((*score, long), "phrase and a long note")
